"""Flags from the tables, told as their reader may see them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet, prefetch_related_objects

from qc.actor import Actor
from qc.lookups.flags.lines import MODELS, SOMEBODY, AtRound, CheckLine, FlagLine, SuspectLine
from qc.lookups.flags.visible import names_first, visible_to
from qc.models import CLOSED, OPEN_FLAG, DriftChannel, Flag, FlagCheck, Role, Round, ServiceEvent

RELATED = (
    "fixture",
    "lathe",
    "edge",
    "gauge",
    "person",
    "decision__answered_by",
    "closed_by",
    "service__by",
    "service__reported__answered_by",
    "service__fixture",
    "service__lathe",
    "service__edge",
    "service__gauge",
    "finding__by",
    "raised_by",
    "moved_at__achieved_set",
    "moved_from__achieved_set",
    "moved_to__achieved_set",
)


def flags_for(
    by: Actor, *, is_open: bool | None = None, channel: str = "", **about: int
) -> QuerySet[Flag]:
    """Newest first. about: fixture, lathe, edge, gauge or person, : whose flags, by key."""
    found = Flag.objects.filter(visible_to(by)).select_related(*RELATED)
    if about:
        found = found.filter(**{f"{kind}_id": key for kind, key in about.items()})
    if channel:
        found = found.filter(channel=channel)
    if is_open is None:
        return found
    return found.filter(state__in=OPEN_FLAG) if is_open else found.exclude(state__in=OPEN_FLAG)


def flags_about(kind: str, key: int, by: Actor) -> QuerySet[Flag]:
    """The flags of one resource, newest first."""
    return flags_for(by).filter(**{f"{kind}_id": key})


def flag_lines(flags: Iterable[Flag], by: Actor) -> list[FlagLine]:
    """The flags as this reader may see them; one query a kind of suspect, however many flags."""
    rows = list(flags)
    prefetch_related_objects(
        rows,
        Prefetch("checks", FlagCheck.objects.select_related("by")),
        Prefetch("trials", _came_to_something().select_related("achieved_set").order_by("pk")),
    )
    names, tried = _names(rows), _put_right_since(rows)
    return [_line(one, names, tried, by) for one in rows]


def _came_to_something() -> QuerySet[Round]:
    """Rounds that were measured, or may yet be."""
    return Round.objects.exclude(achieved_set=None, job__state__in=CLOSED)


def flag_line(flag: Flag, by: Actor) -> FlagLine:
    return flag_lines([flag], by)[0]


@dataclass(frozen=True)
class _Named:
    name: str
    is_retired: bool


_Names = Mapping[tuple[str, int], _Named]


def _names(flags: Sequence[Flag]) -> _Names:
    keys: dict[str, set[int]] = {}
    for flag in flags:
        told = [(one["kind"], one["key"]) for one in flag.suspects]
        told += [(one.kind, one.key) for one in flag.checks.all()]
        for kind, key in [*told, *filter(None, [_cause(flag)])]:
            keys.setdefault(kind, set()).add(key)
    return {
        (kind, one.pk): _Named(one.name, getattr(one, "is_retired", False))
        for kind, some in keys.items()
        for one in MODELS[kind]._default_manager.filter(pk__in=some)
    }


def _put_right_since(flags: Sequence[Flag]) -> list[ServiceEvent]:
    """What was put right since the oldest of them, for the next jobs to tell; oldest first."""
    if not flags:
        return []
    since = min(flag.raised_at for flag in flags)
    rows = ServiceEvent.objects.filter(tells_later=True, at__gte=since)
    return list(rows.select_related("by", "fixture", "lathe", "edge", "gauge"))


def _cause(flag: Flag) -> tuple[str, int] | None:
    found = getattr(flag, "finding", None) or flag
    return None if found.cause_id is None else (found.cause_kind, found.cause_id)


def _line(flag: Flag, names: _Names, put_right: Sequence[ServiceEvent], by: Actor) -> FlagLine:
    kind, about = flag.about_kind, flag.about

    def told(kind: str, key: int, probability: float | None = None) -> SuspectLine:
        if kind == "person" and not (by.may(Role.LEAD) or key == by.person.pk):
            return SuspectLine(kind, None, SOMEBODY, probability)
        named = names[kind, key]
        return SuspectLine(kind, key, named.name, probability, named.is_retired)

    suspects = [told(one["kind"], one["key"], one["probability"]) for one in flag.suspects]
    chances = {(one["kind"], one["key"]): one["probability"] for one in flag.suspects}
    first, cause = suspects[0], _cause(flag)
    is_one = first.probability is None or names_first(flag.suspects)
    is_spread = flag.channel == DriftChannel.SPREAD
    return FlagLine(
        flag=flag,
        channel=flag.channel,
        kind=kind,
        key=about.pk,
        name=about.name,
        suspects=suspects,
        named=first if is_one else None,
        since=_at(flag.moved_at, flag),
        earliest=None if flag.moved_from is None else _at(flag.moved_from, flag),
        latest=None if flag.moved_to is None else _at(flag.moved_to, flag),
        raised_by=AtRound(flag.raised_by.job_id, flag.raised_by.number, flag.raised_at),
        size_mm=None if is_spread else flag.size,
        size_u_mm=None if is_spread else flag.size_u,
        spread_ratio=math.exp(flag.size / 2) if is_spread else None,
        wide_deg=flag.wide_toward_deg,
        is_wear=(flag.ramp_probability or 0.0) > 0.5,
        cause=None if cause is None else told(*cause, chances.get(cause)),
        checks=[
            CheckLine(told(one.kind, one.key), one.at, one.by.name, one.note)
            for one in flag.checks.all()
        ],
        trials=list(flag.trials.all()),
        tried=[
            CheckLine(told(*one.about), one.at, one.by.name, one.note)
            for one in put_right
            if one.about in chances
            and flag.raised_at <= one.at
            and (flag.closed_at is None or one.at <= flag.closed_at)
        ],
    )


def _at(round_: Round, flag: Flag) -> AtRound:
    achieved = round_.achieved_set
    return AtRound(
        round_.job_id, round_.number, flag.raised_at if achieved is None else achieved.at
    )
