"""Charts designed for the shop's wish, beside the ones it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import numpy as np

from qc.errors import ShopError
from qc.lookups.charts.rule_sets import SETS, false_signals
from qc.lookups.record.channels import measured_rounds
from qc.lookups.shop.pace import jobs_per_month
from qc.models import ChartsBy, RuleSet, ShopPolicy
from qc.numerics.charts import individuals_limits
from qc.numerics.charts.first_jobs import FEWEST_JOBS
from qc.numerics.run_length import (
    ChartDesign,
    Outlook,
    cusum_design,
    design_charts,
    ewma_design,
    pace_sentence,
    pair_design,
    rule_run_length,
)

NEWEST = 200
SHIFT_MM = 0.020


@dataclass(frozen=True)
class ChartWish:
    """At most one false flag in so many months, and a shift of shift_mm found soon, where single
    jobs scatter by sigma_mm. within_jobs: for the chance to have found it by then."""

    months: float
    jobs_per_month: float
    shift_mm: float
    sigma_mm: float
    within_jobs: int = 5

    @property
    def size(self) -> float:
        return self.shift_mm / self.sigma_mm


@dataclass(frozen=True)
class DesignRow:
    """One chart. pace: how rare its false flags are, in the shop's time."""

    design: ChartDesign
    pace: str

    @property
    def outlook(self) -> Outlook:
        return self.design.outlook

    @property
    def key(self) -> str:
        """What a form or a request calls it by."""
        if self.design.chart != "cusum":
            return self.design.chart.replace(" ", "_")
        return "cusum_head_start" if self.design.head_start else "cusum"

    @property
    def can_be_taken(self) -> bool:
        """Whether the shop's own charts can be drawn by it."""
        return self.design.chart in ("individuals and ewma", "cusum")


def own_sigma_mm(errors: Sequence[float]) -> float | None:
    """Of single jobs' target errors, from their median moving range; None from too few jobs or
    where they do not differ."""
    if len(errors) < FEWEST_JOBS:
        return None
    return individuals_limits(np.array(errors), spread="median").sigma or None


@dataclass(frozen=True)
class UsualWish:
    """What the shop's season, pace and scatter say. sigma_mm: None where the jobs are too few."""

    months: float
    jobs_per_month: float
    shift_mm: float
    sigma_mm: float | None


def usual_wish(policy: ShopPolicy, *, now: datetime) -> UsualWish:
    """The pace is that of the last year, or the season's before there is one; the scatter that of
    the NEWEST jobs."""
    pace = jobs_per_month(measured_rounds(), now=now)
    newest = measured_rounds().reverse().values_list("target_error_mm", flat=True)[:NEWEST]
    return UsualWish(
        months=policy.season_months / float(policy.false_flags_per_season),
        jobs_per_month=pace or policy.season_jobs / policy.season_months,
        shift_mm=SHIFT_MM,
        sigma_mm=own_sigma_mm(list(newest)[::-1]),
    )


def designs_for(wish: ChartWish) -> list[DesignRow]:
    """The quickest first. Raises NotFinite, BadInput."""
    found = design_charts(
        months_between_flags=wish.months,
        jobs_per_month=wish.jobs_per_month,
        shift=wish.shift_mm,
        sigma=wish.sigma_mm,
    )
    return [DesignRow(one, pace_sentence(one.arl0, wish.jobs_per_month)) for one in found]


def design_in_force(policy: ShopPolicy, wish: ChartWish) -> DesignRow | None:
    """The shop's own chart as it would do at this shift, without the patterns that may signal too;
    None where it cannot be worked out."""
    arl0 = float(policy.season_jobs) / float(policy.false_flags_per_season)
    try:
        if policy.charts_by == ChartsBy.SUMS:
            design = cusum_design(
                arl0,
                wish.size,
                k=float(policy.cusum_k),
                has_head_start=policy.cusum_has_head_start,
            )
        elif policy.rule_set == RuleSet.LIMITS:
            design = pair_design(arl0, wish.size, weight=float(policy.ewma_weight))
        else:
            design = ewma_design(arl0, wish.size, weight=float(policy.ewma_weight))
    except ShopError:
        return None
    return DesignRow(design, pace_sentence(arl0, wish.jobs_per_month))


@dataclass(frozen=True)
class PatternRow:
    """One set of patterns by itself. pace: how rare its false flags are, in the shop's time."""

    rule_set: RuleSet
    outlook: Outlook
    pace: str
    is_chosen: bool


def patterns_for(policy: ShopPolicy, wish: ChartWish) -> list[PatternRow]:
    """What each set of patterns does at this shift; its false flags are its own, not wished for."""
    return [
        PatternRow(
            rule_set=one,
            outlook=(outlook := _pattern_outlook(one, wish.size)),
            pace=pace_sentence(outlook.false.arl, wish.jobs_per_month),
            is_chosen=one == policy.rule_set,
        )
        for one in SETS
    ]


@lru_cache(maxsize=32)
def _pattern_outlook(rule_set: RuleSet, size: float) -> Outlook:
    rules = SETS[rule_set]
    return Outlook(
        false=false_signals(rule_set),
        at_start=rule_run_length(rules, shift=size),
        later=rule_run_length(rules, shift=size, settled=True),
    )
