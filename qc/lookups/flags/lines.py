"""A flag as it is told: what seems to have moved, since when, how far, and who it could be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from qc.models import (
    Answer,
    Decision,
    DriftChannel,
    Finding,
    Fixture,
    Flag,
    FlagState,
    Gauge,
    Lathe,
    Person,
    Resource,
    Round,
    ToolEdge,
)
from qc.numerics.drift.suspects import COULD_WELL_BE, NAMED_AT

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
    checks: what was in order, oldest first. tried: what was put right, while it stayed open, for
    the next jobs to tell. trials: what was set up to tell its suspects apart, oldest first.
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
    tried: Sequence[CheckLine]
    trials: Sequence[Round]

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
        """Whether a lead may answer what was recommended, or decide otherwise than before."""
        return self.is_open and self.decision is not None

    @property
    def waits_for_decision(self) -> bool:
        """Whether what was recommended is not accepted yet."""
        return self.may_be_decided and not self.is_accepted

    @property
    def is_accepted(self) -> bool:
        return self.decision is not None and self.decision.answer == Answer.ACCEPTED

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
