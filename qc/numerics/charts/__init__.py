"""Control charts: each takes readings in cutting order and returns what to draw and which fired.

One number a job: `individuals`, and `ewma` and `cusum` for movement too small for single points.
Several positions a job: `groups`, `between_within`. Vectors: `mewma`. Differing targets share a
chart through `short_run`. A chart says nothing of patterns among points inside the limits: see
`qc.numerics.patterns`; nor how rare its false signals are: see `qc.numerics.run_length`.
"""

from qc.numerics.charts.between_within import BetweenWithin, between_within
from qc.numerics.charts.cusum import CusumChart, cusum_chart
from qc.numerics.charts.ewma import EwmaChart, ewma_chart
from qc.numerics.charts.few_jobs import median_moving_range_df, width_when_estimated
from qc.numerics.charts.groups import (
    GroupChart,
    GroupLimits,
    group_chart,
    group_limits,
    pooled_sd,
)
from qc.numerics.charts.individuals import (
    IndividualsChart,
    IndividualsLimits,
    frozen_limits,
    individuals_chart,
    individuals_limits,
)
from qc.numerics.charts.mewma import MewmaChart, mewma_chart
from qc.numerics.charts.running import (
    RunningChart,
    RunningPoint,
    RunningSettings,
    RunningState,
    fresh_state,
    next_job,
    rebuild,
)
from qc.numerics.charts.short_run import deviations, scaled_deviations

__all__ = [
    "BetweenWithin",
    "CusumChart",
    "EwmaChart",
    "GroupChart",
    "GroupLimits",
    "IndividualsChart",
    "IndividualsLimits",
    "MewmaChart",
    "RunningChart",
    "RunningPoint",
    "RunningSettings",
    "RunningState",
    "between_within",
    "cusum_chart",
    "deviations",
    "ewma_chart",
    "fresh_state",
    "frozen_limits",
    "group_chart",
    "group_limits",
    "individuals_chart",
    "individuals_limits",
    "median_moving_range_df",
    "mewma_chart",
    "next_job",
    "pooled_sd",
    "rebuild",
    "scaled_deviations",
    "width_when_estimated",
]
