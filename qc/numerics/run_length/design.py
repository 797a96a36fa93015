"""Charts for a wish in a shop's words: so few false flags, and a shift of this size found soon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from qc.numerics.run_length.cusum import cusum_arl, cusum_limit
from qc.numerics.run_length.ewma import (
    ewma_arl,
    ewma_width,
    individuals_ewma_arl,
    individuals_ewma_widths,
)
from qc.numerics.run_length.individuals import individuals_arl, individuals_width
from qc.numerics.series import require_number

WEIGHTS = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7)


@dataclass(frozen=True)
class ChartDesign:
    """One way to meet the wish. arl0: jobs to a false flag. jobs_to_find: mean jobs from the shift
    to the signal, the chart standing at its centre when the shift comes.

    individuals, ewma: widths; weight: the EWMA's; k, h: the CUSUM's, in sigma. None where the chart
    has no such setting.
    """

    chart: Literal["individuals", "ewma", "individuals and ewma", "cusum"]
    arl0: float
    jobs_to_find: float
    individuals: float | None = None
    ewma: float | None = None
    weight: float | None = None
    k: float | None = None
    h: float | None = None


def design_charts(
    *, months_between_flags: float, jobs_per_month: float, shift: float, sigma: float
) -> tuple[ChartDesign, ...]:
    """Charts with at most one false flag in so many months, the quickest for this shift first.

    shift, sigma > 0: in one unit; the shift may come either way. The EWMA weight is the one of
    WEIGHTS that finds the shift soonest; the CUSUM allowance is half the shift (Page 1954).
    Limits hold for a centre and sigma that are known; from few jobs false flags come oftener.
    Raises NotFinite, BadInput.
    """
    months = require_number(months_between_flags, what="Months between false flags", above=0)
    per_month = require_number(jobs_per_month, what="Jobs a month", above=0)
    size = require_number(shift, what="The shift", above=0)
    size = size / require_number(sigma, what="Sigma", above=0)
    arl0 = require_number(months * per_month, what="Jobs between false flags", above=1)
    designs = [_individuals(arl0, size), _ewma(arl0, size), _pair(arl0, size), _cusum(arl0, size)]
    return tuple(sorted(designs, key=lambda design: design.jobs_to_find))


def _individuals(arl0: float, size: float) -> ChartDesign:
    width = individuals_width(arl0)
    found = individuals_arl(width, shift=size)
    return ChartDesign("individuals", arl0, found, individuals=width)


def _best_weight(arl0: float, size: float) -> float:
    def found(weight: float) -> float:
        width = ewma_width(arl0, weight=weight, steady_limits=True)
        return ewma_arl(width, weight=weight, shift=size, steady_limits=True)

    return min(WEIGHTS, key=found)


def _ewma(arl0: float, size: float) -> ChartDesign:
    weight = _best_weight(arl0, size)
    width = ewma_width(arl0, weight=weight)
    found = ewma_arl(width, weight=weight, shift=size, steady_limits=True)
    return ChartDesign("ewma", arl0, found, ewma=width, weight=weight)


def _pair(arl0: float, size: float) -> ChartDesign:
    weight = _best_weight(arl0, size)
    both = individuals_ewma_widths(arl0, weight=weight)
    found = individuals_ewma_arl(
        both.individuals, both.ewma, weight=weight, shift=size, steady_limits=True
    )
    return ChartDesign(
        "individuals and ewma",
        arl0,
        found,
        individuals=both.individuals,
        ewma=both.ewma,
        weight=weight,
    )


def _cusum(arl0: float, size: float) -> ChartDesign:
    # An allowance near the limit of single points would leave the sum nothing to add up.
    k = min(size / 2, max(0.0, individuals_width(arl0) - 0.5))
    h = cusum_limit(arl0, k=k)
    return ChartDesign("cusum", arl0, cusum_arl(k=k, h=h, shift=size), k=k, h=h)
