"""The three charts of jobs read at several positions: means, their moving range, spread within.

Positions of one job share that job's height, so the scatter of job means is more than what the
scatter inside jobs explains. Limits for the means therefore come from the means themselves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from numpy.typing import ArrayLike

from qc.errors import BadInput
from qc.numerics.charts.groups import GroupChart, Spread, group_chart
from qc.numerics.charts.individuals import IndividualsChart, individuals_chart, individuals_limits


@dataclass(frozen=True, eq=False)
class BetweenWithin:
    """means: the individuals chart of job means. within: the chart of spread inside jobs; the
    limits it holds for the means ignore the scatter between jobs.

    sigma_between: standard deviation of jobs' true means, 0 when the means scatter less than
    positions alone explain (`between_is_clipped`). sigma_total: of one position of any job.
    """

    means: IndividualsChart
    within: GroupChart
    sigma_within: float
    sigma_between: float
    sigma_total: float
    between_is_clipped: bool


def between_within(
    groups: Sequence[ArrayLike],
    *,
    spread: Spread = "range",
    sigmas: float = 3.0,
    stretch_start: ArrayLike | None = None,
) -> BetweenWithin:
    """groups: two or more jobs of n >= 2 positions each, n the same for all, in cutting order.

    sigma_between^2 = sigma of means^2 - sigma_within^2 / n, the first from the moving range of
    means, the second from the mean range or standard deviation inside jobs.
    Raises TooFewReadings, NotFinite, BadInput.
    """
    within = group_chart(groups, spread=spread, sigmas=sigmas)
    sizes = set(within.size.tolist())
    if len(sizes) > 1:
        raise BadInput(why=f"Every job needs the same number of positions; got {sorted(sizes)}.")
    limits = individuals_limits(within.mean, sigmas=sigmas, stretch_start=stretch_start)
    sigma_within = within.limits.sigma
    excess = limits.sigma**2 - sigma_within**2 / sizes.pop()
    sigma_between = math.sqrt(max(0.0, excess))
    return BetweenWithin(
        means=individuals_chart(within.mean, limits=limits, stretch_start=stretch_start),
        within=within,
        sigma_within=sigma_within,
        sigma_between=sigma_between,
        sigma_total=math.hypot(sigma_between, sigma_within),
        between_is_clipped=excess < 0,
    )
