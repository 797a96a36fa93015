"""What to do about a flag: what running on costs, and what would tell the suspects apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any

from qc.errors import BadInput
from qc.lookups.flags import FlagLine, SuspectLine, names_first
from qc.lookups.kept_drift import IN_WATCH
from qc.lookups.next_job import miss_if_it_moved
from qc.lookups.shop import shop_policy
from qc.lookups.what_pays import WhatPays, fixture_advice, what_pays
from qc.models import DriftChannel, Fixture, Flag, Gauge, Person, Recommended, ToolEdge
from qc.numerics.drift import Suspect, Watch
from qc.numerics.drift.miss import QUARTERS
from qc.numerics.drift.separating import best_trial, every_job

# A job that hardly ever tells two apart is no advice.
LEAST_SETTLED = 0.01
# Odds beyond these are not told apart.
MOST_ODDS = 1000


@dataclass(frozen=True)
class TrialLine:
    """The one next job or check that would tell the two leading suspects apart best.

    uses: what the job would be made with, in words; empty for one cylinder measured with both
    gauges. settles: probability that one of the two is then likely enough to be named. log_odds:
    of the first against the second, as believed now. nats: by how much they are expected to move
    toward whichever it was.
    """

    uses: Sequence[tuple[str, str]]
    gauges: tuple[str, str] | None
    settles: float
    log_odds: float
    nats: float

    @property
    def percent(self) -> int:
        """Never 100: nothing is certain."""
        return min(99, round(100 * self.settles))

    @property
    def odds_now(self) -> str:
        return odds(self.log_odds)

    @property
    def odds_if_first(self) -> str:
        return odds(self.log_odds + self.nats)

    @property
    def odds_if_second(self) -> str:
        return odds(self.log_odds - self.nats)


class Untold(StrEnum):
    """Why there is no trial. STEPPED: the watch is being brought up to date. PUT_RIGHT: nothing is
    held against one of the leading two since the newest job. UNLIKELY: no job or check does it."""

    STEPPED = "stepped"
    PUT_RIGHT = "put_right"
    UNLIKELY = "unlikely"


def odds(log_odds: float) -> str:
    """As they are spoken: 3:2, 20:1, 1:8."""
    if abs(log_odds) > math.log(MOST_ODDS):
        return f"{MOST_ODDS}:1 or more" if log_odds > 0 else f"1:{MOST_ODDS} or less"
    ratio = math.exp(abs(log_odds))
    told = Fraction(ratio).limit_denominator(4 if ratio < 3 else 1)
    first, second = told.numerator, told.denominator
    return f"{first}:{second}" if log_odds >= 0 else f"{second}:{first}"


def recommended(flag: Flag, watch: Watch) -> tuple[Recommended, dict[str, Any]]:
    """What to do about a flag, and the figures that rests on."""
    first = flag.suspects[0]
    figures: dict[str, Any] = {
        "channel": flag.channel,
        "size": flag.size,
        "suspects": flag.suspects,
        "statistic": flag.statistic,
        "limit": flag.limit,
    }
    if first["kind"] != "fixture" or not names_first(flag.suspects):
        return Recommended.CHECK_FIRST, figures
    advice = fixture_advice(first["key"], watch, is_flagged=True)
    figures |= {**asdict(advice), "minutes_to_reindicate": shop_policy().reindicating_minutes}
    return Recommended(advice.what), figures


def advice_on(line: FlagLine, watch: Watch) -> WhatPays | None:
    """For a flag that names one thing, not a person; None for any other, and on the spread channel:
    repeats may scatter more without any job missing for it."""
    if line.named is None or line.named.key is None or line.channel == DriftChannel.SPREAD:
        return None
    return what_pays(line.named.kind, line.named.key, watch, is_flagged=True)


@dataclass(frozen=True)
class Weighed:
    """One suspect of a set. pays: what putting it right takes and when that pays. if_it: P(miss) of
    the next job with it, should it be what moved. None where that is not told."""

    suspect: SuspectLine
    pays: WhatPays | None = None
    if_it: float | None = None


def each_weighed(line: FlagLine, watch: Watch | None) -> list[Weighed]:
    """Every suspect; nothing is told beside a person who is not named to this reader, nor of any
    where one is named or there is no watch, or on spread."""
    if watch is None or line.named is not None or line.channel == DriftChannel.SPREAD:
        return [Weighed(one) for one in line.suspects]
    policy = shop_policy()
    return [
        Weighed(
            one,
            what_pays(one.kind, one.key, watch, is_flagged=True),
            miss_if_it_moved(one.kind, one.key, line.channel, watch, policy),
        )
        if one.key is not None
        else Weighed(one)
        for one in line.suspects
    ]


def telling_apart(line: FlagLine, watch: Watch | None) -> TrialLine | Untold | None:
    """The best next job or check for a set of suspects of what the shop has in use, or why there
    is none; None where one is named."""
    told = line.flag.suspects
    if line.named is not None or len(told) < 2:
        return None
    if watch is None:
        return Untold.STEPPED
    suspects = [
        Suspect(IN_WATCH.get(one["kind"], one["kind"]), one["key"], one["probability"])
        for one in told
    ]
    channel = watch.channels[line.channel].about(suspects[0].kind, suspects[0].resource)
    in_use = _in_use(DriftChannel(line.channel))
    free: dict[str, Any] = {name: rows for name, rows in in_use.items() if rows}
    lathes = dict(ToolEdge.objects.values_list("pk", "lathe")) if "edge" in free else None
    possible = every_job(line.channel, lathe_of=lathes, **free)
    try:
        trial = best_trial(
            channel, suspects, possible=possible, gauges=in_use.get("gauge_achieved", ())
        )
    except BadInput:
        # Nothing is held against one of the two any more; the next job will say so.
        return Untold.PUT_RIGHT
    if trial is None or trial.settles < LEAST_SETTLED:
        return Untold.UNLIKELY
    leading = math.log(told[0]["probability"] / told[1]["probability"])
    if trial.gauges is not None:
        first, second = (Gauge.objects.get(pk=pk).name for pk in trial.gauges)
        return TrialLine((), (first, second), trial.settles, leading, trial.nats)
    assert trial.row is not None
    uses = [
        (WORDS[name], _name(name, float(getattr(possible, name)[trial.row])))
        for name in free
        if name != "operator" or not _is_hidden(line)
    ]
    return TrialLine(uses, None, trial.settles, leading, trial.nats)


WORDS = {
    "fixture": "fixture",
    "clocking_deg": "clocking",
    "operator": "measured by",
    "edge": "tool edge",
    "gauge_achieved": "gauge",
}
MODELS: dict[str, Any] = {
    "fixture": Fixture,
    "operator": Person,
    "edge": ToolEdge,
    "gauge_achieved": Gauge,
}


def _is_hidden(line: FlagLine) -> bool:
    """Whether the set holds a person whose name this reader may not see."""
    return any(one.key is None for one in line.suspects)


def _name(column: str, value: float) -> str:
    if column == "clocking_deg":
        return f"{value:.0f}\N{DEGREE SIGN}"
    return str(MODELS[column].objects.get(pk=int(value)).name)


def _in_use(channel: DriftChannel) -> dict[str, list[Any]]:
    """What the next job can be made with."""
    people = list(Person.objects.filter(is_active=True).values_list("pk", flat=True))
    gauges = list(Gauge.objects.filter(retired_at=None).values_list("pk", flat=True))
    if channel == DriftChannel.TILT:
        fixtures = Fixture.objects.filter(retired_at=None).values_list("pk", flat=True)
        return {"fixture": list(fixtures), "clocking_deg": list(QUARTERS), "operator": people}
    if channel == DriftChannel.SPREAD:
        return {"operator": people, "gauge_achieved": gauges}
    edges = ToolEdge.objects.filter(retired_at=None).values_list("pk", flat=True)
    return {"edge": list(edges), "operator": people, "gauge_achieved": gauges}
