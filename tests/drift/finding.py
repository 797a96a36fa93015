"""How soon moves are found, who is named, and how often nothing had moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.numerics.drift import Budget, watch_jobs
from qc.numerics.results import FloatArray
from tests.drift.conditions import MOVES, PLAIN, drawn, early
from tests.drift.oracle import LONGEST, delays, own_jobs_a_false_flag

# A move not found in so many jobs of the shop counts as not found.
LOOKED_FOR = 350
SETTLED = 100
SEASON = 520


@dataclass(frozen=True)
class Found:
    """Of one shop: own jobs until the right one is flagged, and until it is named alone, inf where
    not within LOOKED_FOR; what the channel's first flag after the move said, None where there was
    none."""

    own: float
    own_named: float
    own_jobs_a_false_flag: float
    is_first_right: bool
    is_first_of_all_right: bool
    is_wrong_blamed: bool
    is_in_set: bool | None
    set_size: int | None


def find(move: str, seed: int, *, condition: str = PLAIN, is_early: bool = False) -> Found:
    channel, change = MOVES[move]
    one = drawn(condition, seed, n=SEASON, change=early(change) if is_early else change)
    flags = [flag for flag in watch_jobs(one.jobs, events=one.events) if flag.job >= one.onset]
    theirs = [flag for flag in flags if flag.channel == channel]

    def is_right(flag) -> bool:
        return (flag.likeliest.kind, flag.likeliest.resource) == one.changed

    until = one.onset + LOOKED_FOR
    hits = [flag for flag in theirs if is_right(flag) and flag.job < until]
    named = [flag for flag in hits if flag.named]
    until = hits[0].job if hits else until
    first = theirs[0] if theirs else None
    return Found(
        own=one.own_jobs_until(until) if hits else np.inf,
        own_named=one.own_jobs_until(named[0].job) if named else np.inf,
        own_jobs_a_false_flag=own_jobs_a_false_flag(one, channel=channel),
        is_first_right=first is not None and is_right(first),
        is_first_of_all_right=bool(flags) and flags[0].channel == channel and is_right(flags[0]),
        is_wrong_blamed=any(flag.job < until and not is_right(flag) for flag in theirs),
        is_in_set=None
        if first is None
        else one.changed in {(each.kind, each.resource) for each in first.suspects},
        set_size=None if first is None else len(first.suspects),
    )


@dataclass(frozen=True)
class Finding:
    """One row of the report; the oracle's figures beside ours. flagged: share of shops in which the
    channel flagged anything; first_right, covered and set_size are of those, covered_se the
    standard error of covered."""

    move: str
    median: float
    p90: float
    within_10: float
    within_20: float
    named_median: float
    named_p90: float
    flagged: float
    first_right: float
    first_of_all_right: float
    wrong: float
    covered: float
    covered_se: float
    set_size: float
    oracle_median: float
    oracle_p90: float
    oracle_within_10: float
    oracle_within_20: float


def finding(move: str, found: list[Found], *, rng: np.random.Generator) -> Finding:
    own = np.array([one.own for one in found])
    oracle = delays(MOVES[move][1], np.array([one.own_jobs_a_false_flag for one in found]), rng=rng)
    flagged = [one for one in found if one.is_in_set is not None]

    def share(name: str) -> float:
        return float(np.mean([getattr(one, name) for one in flagged] or [np.nan]))

    covered = share("is_in_set")
    return Finding(
        move=move,
        **_spread_of(own, ""),
        **_middle_of(np.array([one.own_named for one in found]), "named_"),
        flagged=len(flagged) / len(found),
        first_right=share("is_first_right"),
        first_of_all_right=share("is_first_of_all_right"),
        wrong=float(np.mean([one.is_wrong_blamed for one in found])),
        covered=covered,
        covered_se=float(np.sqrt(covered * (1 - covered) / max(len(flagged), 1))),
        set_size=share("set_size"),
        **_spread_of(np.where(oracle > LONGEST, np.inf, oracle), "oracle_"),
    )


def _middle_of(own: FloatArray, name: str) -> dict[str, float]:
    median, p90 = np.quantile(own, [0.5, 0.9], method="higher")
    return {f"{name}median": float(median), f"{name}p90": float(p90)}


def _spread_of(own: FloatArray, name: str) -> dict[str, float]:
    return {
        **_middle_of(own, name),
        f"{name}within_10": float((own <= 10).mean()),
        f"{name}within_20": float((own <= 20).mean()),
    }


@dataclass(frozen=True)
class FalseFlags:
    """A year of one shop in which nothing moved, by channel."""

    tilt: int
    height: int
    spread: int


def false_flags(condition: str, seed: int, *, jobs_a_year: int = 250) -> FalseFlags:
    """From job SETTLED on, at this pace and a wish of one a year."""
    one = drawn(condition, seed, n=SETTLED + jobs_a_year)
    flags = watch_jobs(one.jobs, events=one.events, budget=Budget(jobs=jobs_a_year))
    late = [flag.channel for flag in flags if flag.job >= SETTLED]
    return FalseFlags(late.count("tilt"), late.count("height"), late.count("spread"))
