"""Repeatability and reproducibility: how much of what is read is the gauge and the hands."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.numerics.capability.indices import Interval
from qc.numerics.gauge_study.anova import AnovaTable, anova_table
from qc.numerics.gauge_study.intervals import satterthwaite_df, variance_interval
from qc.numerics.gauge_study.layout import GaugeReadings
from qc.numerics.results import FloatArray
from qc.numerics.series import require_number

POOL_ABOVE_P = 0.25
# Half the width of 95 % of a normal difference of two readings, in their standard deviations.
OF_TWO_READINGS = 1.959964 * math.sqrt(2)


@dataclass(frozen=True)
class GaugeComponents:
    """Variances in the readings' unit squared, none under zero.

    Repeatability is one hand reading one part again; reproducibility what hands add: operator and
    interaction. grr is both, total also the parts.
    """

    part: float
    operator: float
    interaction: float
    repeatability: float

    @property
    def reproducibility(self) -> float:
        return self.operator + self.interaction

    @property
    def grr(self) -> float:
        return self.repeatability + self.reproducibility

    @property
    def total(self) -> float:
        return self.grr + self.part

    def share_of_study(self, variance: float) -> float | None:
        """A source's standard deviation over the total's."""
        return math.sqrt(variance / self.total) if self.total > 0 else None

    @property
    def classes(self) -> float | None:
        """Groups of parts the gauge can tell apart, sqrt 2 x part over grr deviation, not rounded;
        the number stated is the whole part. None without any gauge scatter."""
        return math.sqrt(2 * self.part / self.grr) if self.grr > 0 else None


@dataclass(frozen=True)
class GaugeStudy:
    """`components` are those recommended: with the interaction, or with it pooled when its p is
    above POOL_ABOVE_P or it cannot be told apart. Intervals are of variances, at `confidence`.

    with_interaction, table_with_interaction, interaction_p: None with one trial a cell.
    df_repeatability, df_operator, df_interaction, df_grr: degrees of freedom for an uncertainty
    budget; all but the first Satterthwaite's, None where the estimate is not above zero.
    """

    components: GaugeComponents
    recommended: Literal["with interaction", "pooled"]
    interaction_p: float | None
    with_interaction: GaugeComponents | None
    pooled: GaugeComponents
    table_with_interaction: AnovaTable | None
    table_pooled: AnovaTable
    repeatability_interval: Interval
    reproducibility_interval: Interval
    grr_interval: Interval
    part_interval: Interval
    df_repeatability: int
    df_operator: float | None
    df_interaction: float | None
    df_grr: float | None
    confidence: float

    def share_of_tolerance(self, tolerance: float, *, sigmas: float = 6.0) -> float:
        """sigmas x grr deviation over the full width of the tolerance, in the readings' unit."""
        width = require_number(tolerance, what="The tolerance", above=0)
        return sigmas * math.sqrt(self.components.grr) / width

    def share_of_tolerance_interval(self, tolerance: float, *, sigmas: float = 6.0) -> Interval:
        width = require_number(tolerance, what="The tolerance", above=0)
        low, high = (sigmas * math.sqrt(bound) / width for bound in self.grr_interval)
        return Interval(low, high)


def gauge_study(readings: GaugeReadings, *, confidence: float = 0.95) -> GaugeStudy:
    """Components by analysis of variance, with intervals.

    The interaction is pooled into repeatability when its F test gives p > 0.25, or when there is
    one trial a cell. Negative components are put to zero. With equal cells REML equals the analysis
    of variance unless a component was put to zero: see reml_components for the others.
    Raises BadInput when a source cannot be judged from these readings, or all are alike.
    """
    if np.ptp(readings.value) == 0:
        raise BadInput(why="All readings are alike: the instrument is too coarse for this study.")
    pooled_table = anova_table(readings, interaction=False)
    full_table = p = None
    if readings.cell.max() + 1 < readings.value.size and _has_interaction(readings):
        full_table = anova_table(readings)
        _, p = full_table.f("interaction", "repeatability")
    pools = full_table is None or (p is not None and p > POOL_ABOVE_P)
    table = pooled_table if pools or full_table is None else full_table
    # Row i: what makes component i from the mean squares.
    by_ms = np.linalg.inv(table.expected)
    grr = by_ms[1:].sum(axis=0)

    def interval(coefficient: FloatArray) -> Interval:
        return variance_interval(coefficient, table.ms, table.df, confidence=confidence)

    return GaugeStudy(
        components=components_of(table),
        recommended="pooled" if table is pooled_table else "with interaction",
        interaction_p=p,
        with_interaction=None if full_table is None else components_of(full_table),
        pooled=components_of(pooled_table),
        table_with_interaction=full_table,
        table_pooled=pooled_table,
        repeatability_interval=interval(by_ms[-1]),
        reproducibility_interval=interval(by_ms[1:-1].sum(axis=0)),
        grr_interval=interval(grr),
        part_interval=interval(by_ms[0]),
        df_repeatability=int(table.df[-1]),
        df_operator=satterthwaite_df(by_ms[1], table.ms, table.df),
        df_interaction=None if pools else satterthwaite_df(by_ms[2], table.ms, table.df),
        df_grr=satterthwaite_df(grr, table.ms, table.df),
        confidence=confidence,
    )


def largest_difference(variance: float) -> float:
    """By how much two readings of one part differ at most, 95 times of 100, in the readings' unit.

    variance: of one reading: repeatability alone for one hand reading twice, grr for two hands.
    Source: ISO 5725-6 (repeatability and reproducibility limits), from memory.
    """
    return OF_TWO_READINGS * math.sqrt(variance)


def components_of(table: AnovaTable) -> GaugeComponents:
    """The table's components with negative ones put to zero."""
    found = dict(zip(table.sources, np.maximum(table.components, 0.0).tolist(), strict=True))
    return GaugeComponents(**{"interaction": 0.0, **found})


def _has_interaction(readings: GaugeReadings) -> bool:
    """Whether there are more cells than part and operator effects can fit."""
    return int(readings.cell.max()) + 1 > readings.parts + readings.operators - 1
