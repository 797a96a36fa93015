"""The sets of pattern rules a shop may pick, and how jobs are judged by each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from qc.lookups.shop.pace import jobs_per_month
from qc.models import ChartsBy, JobResult, Rule, RuleSet, ShopPolicy
from qc.numerics import patterns
from qc.numerics.charts.kept import Judging, Sums, is_of_single_jobs
from qc.numerics.patterns import ZoneRule, points_needed
from qc.numerics.run_length import (
    RunLength,
    cusum_limit,
    ewma_width,
    individuals_ewma_widths,
    pace_sentence,
    rule_run_length,
)
from qc.numerics.run_length.design import HEAD_START

NAMED: Mapping[patterns.Rule, Rule] = {
    patterns.BEYOND_3: Rule.INDIVIDUALS,
    patterns.TWO_OF_THREE: Rule.TWO_OF_THREE,
    patterns.FOUR_OF_FIVE: Rule.FOUR_OF_FIVE,
    patterns.SEVEN_SAME_SIDE: Rule.SEVEN_SAME_SIDE,
    patterns.EIGHT_SAME_SIDE: Rule.EIGHT_SAME_SIDE,
    patterns.NINE_SAME_SIDE: Rule.NINE_SAME_SIDE,
    patterns.SIX_RISING_OR_FALLING: Rule.SIX_TREND,
    patterns.SEVEN_RISING_OR_FALLING: Rule.SEVEN_TREND,
    patterns.FOURTEEN_ALTERNATING: Rule.ALTERNATING,
    patterns.FIFTEEN_WITHIN_1: Rule.HUGGING,
    patterns.EIGHT_BEYOND_1: Rule.SHUNNING,
}
SETS: Mapping[RuleSet, tuple[patterns.Rule, ...]] = {
    RuleSet.WESTERN_ELECTRIC: patterns.WESTERN_ELECTRIC,
    RuleSet.NELSON: patterns.NELSON,
    RuleSet.ISO_7870_2: patterns.ISO_7870_2,
}
LONGEST_PATTERN = max(points_needed(rules) for rules in SETS.values())


def arl_wanted(policy: ShopPolicy) -> float:
    """Jobs between two false signals of one chart, as the shop wishes."""
    return float(policy.season_jobs) / float(policy.false_flags_per_season)


@dataclass(frozen=True)
class Judged:
    """How a policy judges a job. lines: the rules that decide beside patterns; rules: the patterns
    that signal too."""

    by: Judging
    lines: frozenset[Rule]
    patterns: tuple[patterns.Rule, ...]


def judging(policy: ShopPolicy) -> Judged:
    """How this policy judges a job on a chart of errors.

    The lines that decide, single jobs and their running average or the cumulative sums, share the
    wished false signals. Patterns come on top: with them the limits are the 3 sigma they were
    published with, and the line beside them keeps the wish for itself.
    """
    return _judging(
        RuleSet(policy.rule_set),
        ChartsBy(policy.charts_by),
        arl_wanted(policy),
        float(policy.ewma_weight),
        float(policy.cusum_k),
        HEAD_START if policy.cusum_has_head_start else 0.0,
    )


@lru_cache(maxsize=64)
def _judging(
    rule_set: RuleSet, charts_by: ChartsBy, arl: float, weight: float, k: float, head_start: float
) -> Judged:
    sums = None
    if charts_by == ChartsBy.SUMS:
        h = cusum_limit(arl, k=k, head_start_share=head_start)
        sums = Sums(k, h, head_start * h)
    if rule_set == RuleSet.LIMITS:
        widths = individuals_ewma_widths(arl, weight=weight)
        alone = ZoneRule("one point outside the limits", 1, 1, low=widths.individuals)
        by = Judging(weight, widths.ewma, (alone,), sums)
        lines = {Rule.SUMS} if sums else {Rule.INDIVIDUALS, Rule.EWMA}
        return Judged(by, frozenset(lines), ())
    by = Judging(weight, ewma_width(arl, weight=weight), SETS[rule_set], sums)
    return Judged(by, frozenset({Rule.SUMS if sums else Rule.EWMA}), SETS[rule_set])


def rule_of(rule: patterns.Rule) -> Rule:
    """The signal's name for a rule; limits of any width are one rule to a person."""
    if is_of_single_jobs(rule):
        return Rule.INDIVIDUALS
    return NAMED[rule]


@dataclass(frozen=True)
class RuleSetRow:
    """One set as a person weighs it. rules: in words. false: jobs to a signal of these patterns on
    one chart with nothing wrong, None for no patterns; pace: in the shop's time, None before there
    is a pace."""

    rule_set: RuleSet
    rules: Sequence[str]
    false: RunLength | None
    pace: str | None
    is_chosen: bool

    @property
    def arl_jobs(self) -> float | None:
        return None if self.false is None else self.false.arl

    @property
    def tenth_jobs(self) -> int | None:
        """Within which one chart of ten has signalled."""
        return None if self.false is None else self.false.quantile(0.1)

    @property
    def half_jobs(self) -> int | None:
        return None if self.false is None else self.false.quantile(0.5)


@dataclass(frozen=True)
class RuleSets:
    """Every set, and how often the lines that decide beside them signal falsely."""

    rows: Sequence[RuleSetRow]
    lines_pace: str | None
    jobs_per_month: float | None


def rule_sets(policy: ShopPolicy, *, now: datetime) -> RuleSets:
    """What each set would cost in false signals at the shop's own pace."""
    results = JobResult.objects.filter(is_current=True, is_reading_only=False)
    per_month = jobs_per_month(results, now=now)

    def pace(arl: float) -> str | None:
        return None if per_month is None else pace_sentence(arl, per_month)

    rows = [
        RuleSetRow(
            rule_set=one,
            rules=[str(NAMED[rule].label) for rule in SETS.get(one, ())],
            false=false,
            pace=None if false is None else pace(false.arl),
            is_chosen=one == policy.rule_set,
        )
        for one in RuleSet
        for false in [false_signals(one) if one in SETS else None]
    ]
    return RuleSets(rows, pace(arl_wanted(policy)), per_month)


@lru_cache(maxsize=8)
def false_signals(rule_set: RuleSet) -> RunLength:
    """Jobs to the first signal of a set of patterns on one chart with nothing wrong."""
    return rule_run_length(SETS[rule_set])
