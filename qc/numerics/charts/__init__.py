"""Control charts: each takes readings in cutting order and returns what to draw and which fired.

`individuals` for one number a job, `ewma` for slow movement of the same number. A chart says
nothing of patterns among points inside the limits: see `qc.numerics.patterns`.
"""

from qc.numerics.charts.ewma import EwmaChart, ewma_chart
from qc.numerics.charts.individuals import (
    IndividualsChart,
    IndividualsLimits,
    individuals_chart,
    individuals_limits,
)

__all__ = [
    "EwmaChart",
    "IndividualsChart",
    "IndividualsLimits",
    "ewma_chart",
    "individuals_chart",
    "individuals_limits",
]
