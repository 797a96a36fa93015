"""Every drawing by its key: how it is drawn, its twin, its rows, the shape of its place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.accuracy import accuracy_over_months, accuracy_over_months_table
from dashboards.figures.checks import gauge_checks, gauge_checks_table
from dashboards.figures.designs import finding_curves, finding_table
from dashboards.figures.dial import dial_sweep, dial_sweep_table
from dashboards.figures.gap import gap_round_bore, gap_round_bore_table
from dashboards.figures.individuals import individuals_and_ewma, individuals_and_ewma_table
from dashboards.figures.lanes import time_lanes, time_lanes_table
from dashboards.figures.shifts import levels_table, spread_over_time
from dashboards.figures.study import study_dots, study_dots_table
from dashboards.figures.table import Table
from dashboards.figures.tilt import tilt_clock, tilt_clock_table
from dashboards.figures.timing import port_timing_ring, port_timing_ring_table
from tests.dashboards import sample_rows as rows


@dataclass(frozen=True)
class Drawing:
    draw: Callable[..., go.Figure]
    twin: Callable[..., Table]
    rows: Any
    shape: str


def spread_twin(drawn: rows.SpreadOverTime, *, unit: str = "mm") -> Table:
    return levels_table(drawn.levels, drawn.shifts, unit=unit, signed=False)


def finding(drawn: tuple[rows.FindingCurve, ...], *, unit: str = "mm") -> go.Figure:
    """Shares and counts: the same in every unit."""
    return finding_curves(drawn)


DRAWINGS = {
    "gap": Drawing(gap_round_bore, gap_round_bore_table, rows.GAP, "pair"),
    "tilt": Drawing(tilt_clock, tilt_clock_table, rows.TILT, "round"),
    "lanes": Drawing(time_lanes, time_lanes_table, rows.LANES, "lanes"),
    "accuracy": Drawing(accuracy_over_months, accuracy_over_months_table, rows.ACCURACY, "months"),
    "spread": Drawing(spread_over_time, spread_twin, rows.SPREAD, "strip"),
    "finding": Drawing(finding, finding_table, rows.FINDING, "strip"),
    "chart": Drawing(individuals_and_ewma, individuals_and_ewma_table, rows.CHART, "lanes"),
    "timing": Drawing(port_timing_ring, port_timing_ring_table, rows.PORTS, "round"),
    "study": Drawing(study_dots, study_dots_table, rows.STUDY, "strip"),
    "checks": Drawing(gauge_checks, gauge_checks_table, rows.CHECKS, "strip"),
    "dial": Drawing(dial_sweep, dial_sweep_table, rows.DIAL, "round"),
}
