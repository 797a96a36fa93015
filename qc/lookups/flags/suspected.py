"""What open flags suspect: by thing, and of what one job is made with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from qc.actor import Actor
from qc.lookups.flags.lines import MODELS, FlagLine
from qc.lookups.flags.reindications import waiting
from qc.lookups.flags.told import (
    RELATED,
    flag_lines,
    flags_for,
)
from qc.lookups.flags.visible import (
    anybody,
    names_first,
    visible_to,
)
from qc.models import OPEN_FLAG, Flag, ReadingSet, Reindication, Resource, Round, ToolEdge
from qc.numerics.drift.suspects import COULD_WELL_BE

Thing = tuple[str, int]
SLUGS = {model: kind for kind, model in MODELS.items()}


def suspected_openly() -> set[Thing]:
    """By kind and key, what open flags that everybody may know of could well be about."""
    told = Flag.objects.filter(visible_to(anybody()), state__in=OPEN_FLAG).values_list(
        "suspects", flat=True
    )
    return {(one["kind"], one["key"]) for suspects in told for one in suspects if _may_well_be(one)}


def concerning(*things: Thing, by_then: datetime | None = None) -> list[Flag]:
    """The open flags that are about one of these things, or may well be; oldest first. by_then:
    those raised up to then, for what was done at that time says nothing of one raised since."""
    wanted = set(things)
    rows = (
        Flag.objects.filter(state__in=OPEN_FLAG)
        .select_related(*RELATED)
        .order_by("raised_at", "pk")
    )
    if by_then is not None:
        rows = rows.filter(raised_at__lte=by_then)
    return [one for one in rows if (one.about_kind, one.about_id) in wanted or wanted & likely(one)]


def likely(flag: Flag) -> set[Thing]:
    """Its suspects that are asked about; one whose likelihood nobody worked out among them."""
    return {(one["kind"], one["key"]) for one in flag.suspects if _may_well_be(one)}


def _may_well_be(suspect: Mapping[str, Any]) -> bool:
    return suspect["probability"] is None or suspect["probability"] >= COULD_WELL_BE


def suspects_of(flag: Flag) -> set[Thing]:
    """All of them, likely or not."""
    return {(one["kind"], one["key"]) for one in flag.suspects}


def unchecked(flag: Flag) -> set[Thing]:
    """Its likely suspects that nobody found in order since it was raised."""
    return likely(flag) - set(flag.checks.values_list("kind", "key"))


def is_in_question(*things: Thing, done_at: datetime | None = None) -> bool:
    """Whether an open flag that may be about one of these may as well be about something else.
    done_at: as in asked_about."""
    return any(unchecked(flag) - set(things) for flag in concerning(*things, by_then=done_at))


def ended_by_retiring(resource: Resource) -> list[Flag]:
    """The open flags about it, and those that have come to name it alone; a setting standard is
    never flagged."""
    if type(resource) not in SLUGS:
        return []
    thing = (SLUGS[type(resource)], resource.pk)
    return [
        one
        for one in concerning(thing)
        if (one.about_kind, one.about_id) == thing or _named(one) == thing
    ]


def asked_about(
    kind: str, key: int, by: Actor, *, done_at: datetime | None = None
) -> list[FlagLine]:
    """The open flags that a service of this says something of. done_at: now, where left out."""
    return flag_lines(concerning((kind, key), by_then=done_at), by)


def edges_asked_about() -> list[ToolEdge]:
    """Edges in lathes now that an open flag may well be about."""
    fitted = {("edge", one.pk): one for one in ToolEdge.objects.filter(retired_at=None)}
    held = {
        thing
        for flag in concerning(*fitted)
        for thing in likely(flag) | {(flag.about_kind, flag.about_id)}
    }
    return [edge for thing, edge in fitted.items() if thing in held]


def _named(flag: Flag) -> Thing | None:
    first = flag.suspects[0]
    is_one = first["probability"] is None or names_first(flag.suspects)
    return (first["kind"], first["key"]) if is_one else None


@dataclass(frozen=True)
class Warned:
    """An open flag that what a job is made with may be about. things: which, as it names them, the
    likeliest first; kind and key are the likeliest's. of: how many it could be in all. reported:
    that the fixture was re-indicated, where that waits for a lead's word."""

    line: FlagLine
    kind: str
    key: int
    things: Sequence[str]
    of: int
    reported: Reindication | None = None

    @property
    def is_named(self) -> bool:
        return self.line.named is not None


def warnings_for(round_: Round, by: Actor) -> list[Warned]:
    """What whoever works at this round should know before going on, as they may know of it. Of the
    flag whose suspects it is to tell apart there is no warning: it is made with them on purpose."""
    others = flags_for(by, is_open=True)
    if round_.tells_apart_id is not None:
        others = others.exclude(pk=round_.tells_apart_id)
    lines = flag_lines(others, by)
    if not lines:
        return []
    used = _used_in(round_)
    found = []
    for line in lines:
        told = line.likely if line.named is None else [line.named]
        known = {(one.kind, one.key): one.name for one in told if one.key is not None}
        # What was put right to see is no worry to the jobs after it.
        right = {(one.suspect.kind, one.suspect.key) for one in line.tried}
        own = {thing: name for thing, name in known.items() if thing in used - right}
        if own:
            of = 1 if line.named else len(line.suspects)
            (kind, key), names = next(iter(own)), list(own.values())
            reported = waiting().filter(fixture=key).last() if kind == "fixture" else None
            found.append(Warned(line, kind, key, names, of, reported))
    return found


def _used_in(round_: Round) -> set[tuple[str, int | None]]:
    """What is not known yet is None, which is no suspect's key."""
    of_round = Q(round=round_) | Q(pk=round_.as_found_set_id)
    gauges = ReadingSet.objects.filter(of_round, gauge__isnull=False)
    return {
        ("fixture", round_.fixture_id),
        ("lathe", round_.lathe_id),
        ("edge", round_.edge_id),
        *(("gauge", key) for key in gauges.values_list("gauge_id", flat=True)),
    }
