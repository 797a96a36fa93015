"""Studies of gauges and hands: repeatability and reproducibility, bias, linearity.

Stability over time is an individuals chart of readings of one setting standard, with frozen limits
(`qc.numerics.charts`).
"""

from qc.numerics.gauge_study.anova import AnovaTable, anova_table
from qc.numerics.gauge_study.bias import Bias, Linearity, gauge_bias, gauge_linearity
from qc.numerics.gauge_study.layout import GaugeReadings, gauge_grid, gauge_readings
from qc.numerics.gauge_study.order import Turn, drawn_order
from qc.numerics.gauge_study.range_method import RangeStudy, range_study
from qc.numerics.gauge_study.reml import RemlComponents, reml_components
from qc.numerics.gauge_study.study import (
    POOL_ABOVE_P,
    GaugeComponents,
    GaugeStudy,
    gauge_study,
    largest_difference,
)

__all__ = [
    "POOL_ABOVE_P",
    "AnovaTable",
    "Bias",
    "GaugeComponents",
    "GaugeReadings",
    "GaugeStudy",
    "Linearity",
    "RangeStudy",
    "RemlComponents",
    "Turn",
    "anova_table",
    "drawn_order",
    "gauge_bias",
    "gauge_grid",
    "gauge_linearity",
    "gauge_readings",
    "gauge_study",
    "largest_difference",
    "range_study",
    "reml_components",
]
