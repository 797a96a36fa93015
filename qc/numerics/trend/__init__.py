"""Slow trends and sudden breaks over months of jobs.

`monotone` for a drift up or down, `breaks` for levels that changed and when, `stability` for
whether there is anything to find at all.
"""

from qc.numerics.trend.breaks import Break, Levels, find_levels, sup_f
from qc.numerics.trend.monotone import MannKendall, TheilSen, mann_kendall, theil_sen
from qc.numerics.trend.stability import (
    OlsCusum,
    RecursiveCusum,
    ols_cusum,
    recursive_cusum,
    recursive_residuals,
)

__all__ = [
    "Break",
    "Levels",
    "MannKendall",
    "OlsCusum",
    "RecursiveCusum",
    "TheilSen",
    "find_levels",
    "mann_kendall",
    "ols_cusum",
    "recursive_cusum",
    "recursive_residuals",
    "sup_f",
    "theil_sen",
]
