"""Flags as they are told: what seems to have moved, since when, how far, and who it could be.

A flag on a person is for that person and the leads, and so is one that was raised about a thing and
has come to name a person. Where a person is one of several suspects, everybody else reads
"somebody's technique" and no name.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Prefetch, Q, QuerySet, prefetch_related_objects

from qc.actor import Actor
from qc.models import (
    OPEN_FLAG,
    Answer,
    Decision,
    DriftChannel,
    Finding,
    Fixture,
    Flag,
    FlagCheck,
    FlagState,
    Gauge,
    Lathe,
    Person,
    Resource,
    Role,
    Round,
    ToolEdge,
)
from qc.numerics.drift.suspects import COULD_WELL_BE, NAMED_AT, is_named

MODELS: dict[str, type[Resource] | type[Person]] = {
    "fixture": Fixture,
    "lathe": Lathe,
    "edge": ToolEdge,
    "gauge": Gauge,
    "person": Person,
}
SOMEBODY = "somebody's technique"
NOUNS = {
    "fixture": "fixture",
    "lathe": "lathe",
    "edge": "tool edge",
    "gauge": "gauge",
    "person": "technique",
}
RELATED = (
    "fixture",
    "lathe",
    "edge",
    "gauge",
    "person",
    "decision__answered_by",
    "closed_by",
    "service__by",
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


@dataclass(frozen=True)
class SuspectLine:
    """key: None where the name is not for this reader. probability: None where not worked out."""

    kind: str
    key: int | None
    name: str
    probability: float | None
    is_retired: bool = False

    @property
    def noun(self) -> str:
        return NOUNS[self.kind]

    @property
    def is_likely(self) -> bool:
        """Whether it could well be this one, or nobody worked that out."""
        return self.probability is None or self.probability >= COULD_WELL_BE

    @property
    def percent(self) -> int | None:
        """Never 100: nothing is certain."""
        return None if self.probability is None else min(99, round(100 * self.probability))

    @property
    def told_probability(self) -> float | None:
        """As machines are told: to three places, and never above 0.99, for nothing is certain."""
        return None if self.probability is None else min(0.99, round(self.probability, 3))


@dataclass(frozen=True)
class CheckLine:
    """One suspect that was looked at and in order."""

    suspect: SuspectLine
    at: datetime
    by: str
    note: str

    @property
    def told(self) -> str:
        return told_first(self.suspect)


@dataclass(frozen=True)
class AtRound:
    job_id: int
    number: int
    at: datetime

    @property
    def label(self) -> str:
        return f"job {self.job_id}" + ("" if self.number == 1 else f" round {self.number}")


@dataclass(frozen=True)
class FlagLine:
    """A flag as one reader may see it.

    size_mm: tilt side to side at a 20 mm radius, or a height positive when wider; spread_ratio:
    how many times as widely repeats scatter. named: the one it is, where it is likely enough.
    cause: which suspect a cause that was found lay in, where that was said, then or afterwards.
    checks: what was in order, oldest first.
    """

    flag: Flag
    channel: str
    kind: str
    key: int
    name: str
    suspects: Sequence[SuspectLine]
    named: SuspectLine | None
    since: AtRound
    earliest: AtRound | None
    latest: AtRound | None
    raised_by: AtRound
    size_mm: float | None
    size_u_mm: float | None
    spread_ratio: float | None
    wide_deg: float | None
    is_wear: bool
    cause: SuspectLine | None
    checks: Sequence[CheckLine]

    @property
    def is_open(self) -> bool:
        return self.flag.is_open

    @property
    def is_looked_into(self) -> bool:
        return self.flag.state == FlagState.LOOKED_INTO

    @property
    def decision(self) -> Decision | None:
        """None for a flag from before recommendations were kept."""
        found: Decision | None = getattr(self.flag, "decision", None)
        return found

    @property
    def finding(self) -> Finding | None:
        """What a lead said afterwards of one that a service cleared."""
        found: Finding | None = getattr(self.flag, "finding", None)
        return found

    @property
    def ended(self) -> str:
        """How it ended, in words."""
        said = str(self.flag.get_state_display())
        if self.finding is not None:
            said = f"{said}; afterwards: {self.finding.get_state_display()}"
        return said if self.cause is None else f"{said}, in {told_name(self.cause)}"

    @property
    def may_be_told_of(self) -> bool:
        """Whether a lead may say afterwards what came of it."""
        return self.flag.state == FlagState.CLEARED

    @property
    def may_be_decided(self) -> bool:
        """Whether a lead may still answer what was recommended."""
        decision = self.decision
        return self.is_open and decision is not None and decision.answer != Answer.ACCEPTED

    @property
    def side_to_side_mm(self) -> float | None:
        return self.size_mm if self.is_tilt else None

    @property
    def height_mm(self) -> float | None:
        return self.size_mm if self.is_height else None

    @property
    def is_usual_alone(self) -> bool:
        """Whether the likeliest is not named only because the jobs themselves do not tell it."""
        first = self.suspects[0].probability
        return self.named is None and first is not None and first >= NAMED_AT

    @property
    def is_person(self) -> bool:
        return self.kind == "person"

    @property
    def is_tilt(self) -> bool:
        return self.channel == DriftChannel.TILT

    @property
    def is_height(self) -> bool:
        return self.channel == DriftChannel.HEIGHT

    @property
    def is_wide(self) -> bool:
        return self.size_mm is not None and self.size_mm > 0

    @property
    def title(self) -> str:
        """What seems to have moved: one name, or everybody it could be."""
        if self.named is not None:
            changed = "changed" if self.named.kind == "person" else "moved"
            return f"{told_first(self.named)} seems to have {changed}"
        return f"Something moved: {self.who}"

    @property
    def likely(self) -> Sequence[SuspectLine]:
        """The suspects that it could well be, whatever else the set holds to be surer."""
        return [one for one in self.suspects if one.is_likely]

    @property
    def who(self) -> str:
        """Everybody it could be, those that it hardly is by their number."""
        names = list(dict.fromkeys(told_name(one) for one in self.likely))
        others = len(self.suspects) - len(self.likely)
        if others:
            names.append("one other" if others == 1 else f"one of {others} others")
        return one_of(names)


def told_name(suspect: SuspectLine) -> str:
    """A thing by its name; of a person, how they work."""
    if suspect.kind == "person" and suspect.key is not None:
        return f"{suspect.name}'s technique"
    return suspect.name


def told_first(suspect: SuspectLine) -> str:
    """The same where a sentence begins. A name keeps the letters it was given."""
    name = told_name(suspect)
    return name.capitalize() if name == SOMEBODY else name


def one_of(names: Sequence[str]) -> str:
    """The names in one phrase: a, b or c."""
    *others, last = dict.fromkeys(names)
    return f"{', '.join(others)} or {last}" if others else last


NAMES_PERSON = Q(suspects__0__kind="person", suspects__0__probability__gte=NAMED_AT)


def visible_to(by: Actor) -> Q:
    """Flags that this reader may know of."""
    if by.may(Role.LEAD):
        return Q()
    own, of_nobody = by.person.pk, Q(person=None) & ~NAMES_PERSON
    if own is None:
        return of_nobody
    return of_nobody | Q(person=own) | (NAMES_PERSON & Q(suspects__0__key=own))


def may_know(flag: Flag, by: Actor) -> bool:
    """The same of one flag."""
    people = {flag.person_id, named_person(flag)} - {None}
    return by.may(Role.LEAD) or not people or by.person.pk in people


def names_first(suspects: Sequence[Mapping[str, Any]]) -> bool:
    """Whether a flag's likeliest suspect is likely enough to be named alone."""
    first = suspects[0]
    return is_named(first["probability"] or 0.0, first.get("by_jobs", 1.0))


def named_person(flag: Flag) -> int | None:
    """The person whom a flag has come to name, whatever it was raised about."""
    first = flag.suspects[0]
    is_named = first["kind"] == "person" and (first["probability"] or 0.0) >= NAMED_AT
    return first["key"] if is_named else None


def open_on_fixtures() -> QuerySet[Flag]:
    """Open flags raised on a fixture. One that has come to name a person says nothing of the
    fixture any more, and is left out."""
    return Flag.objects.filter(~NAMES_PERSON, state__in=OPEN_FLAG, fixture__isnull=False)


def anybody() -> Actor:
    """A reader with no name: sees what every account of the shop may."""
    return Actor(Person(role=Role.VIEWER))


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
    prefetch_related_objects(rows, Prefetch("checks", FlagCheck.objects.select_related("by")))
    names = _names(rows)
    return [_line(one, names, by) for one in rows]


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


def _cause(flag: Flag) -> tuple[str, int] | None:
    found = getattr(flag, "finding", None) or flag
    return None if found.cause_id is None else (found.cause_kind, found.cause_id)


def _line(flag: Flag, names: _Names, by: Actor) -> FlagLine:
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
    )


def _at(round_: Round, flag: Flag) -> AtRound:
    achieved = round_.achieved_set
    return AtRound(
        round_.job_id, round_.number, flag.raised_at if achieved is None else achieved.at
    )
