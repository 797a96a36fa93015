"""Charts for a wish in a shop's words: so few false flags, and a shift of this size found soon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from qc.errors import BadInput
from qc.numerics.run_length.cusum import cusum_limit
from qc.numerics.run_length.ewma import ewma_arl, ewma_width, individuals_ewma_widths
from qc.numerics.run_length.individuals import individuals_width
from qc.numerics.run_length.outlook import (
    Outlook,
    cusum_outlook,
    ewma_outlook,
    individuals_outlook,
)
from qc.numerics.series import require_number

RAREST = 20_000.0  # jobs between false flags; limits wider than that find nothing
SMALLEST = 0.1  # sigma
WEIGHTS = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7)
HEAD_START = 0.5  # of h, as Lucas & Crosier (1982) advise


@dataclass(frozen=True)
class ChartDesign:
    """One way to meet the wish. arl0: jobs to a false flag of a fresh chart.

    individuals, ewma: widths; weight: the EWMA's; k, h, head_start: the CUSUM's, in sigma. None
    where the chart has no such setting.
    """

    chart: Literal["individuals", "ewma", "individuals and ewma", "cusum"]
    arl0: float
    outlook: Outlook
    individuals: float | None = None
    ewma: float | None = None
    weight: float | None = None
    k: float | None = None
    h: float | None = None
    head_start: float | None = None

    @property
    def jobs_to_find(self) -> float:
        """Mean jobs from the shift to the signal, when it comes after long without one."""
        return self.outlook.later.arl


def design_charts(
    *, months_between_flags: float, jobs_per_month: float, shift: float, sigma: float
) -> tuple[ChartDesign, ...]:
    """Charts with at most one false flag in so many months, the quickest for this shift first.

    shift, sigma > 0: in one unit; the shift may come either way. The EWMA weight is the one of
    WEIGHTS that finds the shift soonest; the CUSUM allowance is half the shift (Page 1954), with
    and without a head start.
    Limits hold for a centre and sigma that are known; from few jobs false flags come oftener.
    Raises NotFinite, BadInput.
    """
    months = require_number(months_between_flags, what="Months between false flags", above=0)
    per_month = require_number(jobs_per_month, what="Jobs a month", above=0)
    size = require_number(shift, what="The shift", above=0)
    size = size / require_number(sigma, what="Sigma", above=0)
    arl0 = require_number(
        months * per_month, what="Jobs between false flags", above=1, at_most=RAREST
    )
    if size < SMALLEST:
        raise BadInput(
            why=f"A shift of {size:.2g} sigma is lost in the jobs' own scatter: ask for "
            f"{SMALLEST:g} sigma or more.",
            fields=("shift",),
        )
    weight = _best_weight(arl0, size)
    # An allowance near the limit of single points would leave the sum nothing to add up.
    k = min(size / 2, max(0.0, individuals_width(arl0) - 0.5))
    designs = [
        _individuals(arl0, size),
        ewma_design(arl0, size, weight=weight),
        pair_design(arl0, size, weight=weight),
        cusum_design(arl0, size, k=k, has_head_start=False),
        cusum_design(arl0, size, k=k, has_head_start=True),
    ]
    return tuple(sorted(designs, key=lambda design: design.jobs_to_find))


def pair_design(arl0: float, size: float, *, weight: float) -> ChartDesign:
    """Single points beside an EWMA of this weight; arl0 > 1 jobs to a false flag of either.

    size: of the shift to be found, in sigma.
    """
    both = individuals_ewma_widths(arl0, weight=weight)
    return ChartDesign(
        "individuals and ewma",
        arl0,
        ewma_outlook(both.ewma, weight=weight, shift=size, individuals=both.individuals),
        individuals=both.individuals,
        ewma=both.ewma,
        weight=weight,
    )


def cusum_design(arl0: float, size: float, *, k: float, has_head_start: bool) -> ChartDesign:
    """A two-sided CUSUM with this allowance; its head start is half its limit. As pair_design."""
    share = HEAD_START if has_head_start else 0.0
    h = cusum_limit(arl0, k=k, head_start_share=share)
    return ChartDesign(
        "cusum",
        arl0,
        cusum_outlook(k=k, h=h, shift=size, head_start=share * h),
        k=k,
        h=h,
        head_start=share * h,
    )


def ewma_design(arl0: float, size: float, *, weight: float) -> ChartDesign:
    """An EWMA of this weight alone. As pair_design."""
    width = ewma_width(arl0, weight=weight)
    outlook = ewma_outlook(width, weight=weight, shift=size)
    return ChartDesign("ewma", arl0, outlook, ewma=width, weight=weight)


def _individuals(arl0: float, size: float) -> ChartDesign:
    width = individuals_width(arl0)
    outlook = individuals_outlook(width, shift=size)
    return ChartDesign("individuals", arl0, outlook, individuals=width)


def _best_weight(arl0: float, size: float) -> float:
    def found(weight: float) -> float:
        width = ewma_width(arl0, weight=weight, steady_limits=True)
        return ewma_arl(width, weight=weight, shift=size, steady_limits=True)

    return min(WEIGHTS, key=found)
