"""Charts for a wish beside each other: how soon each finds the shift."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

from dashboards.figures.rows import FindingCurve
from dashboards.figures.strip import lane_axis, lane_title
from dashboards.figures.table import Table, table
from dashboards.figures.theme import ACCENT, INK, QUIET, new_figure, nothing_yet, plain

LINES: tuple[dict[str, Any], ...] = (
    {"color": ACCENT, "width": 3},
    {"color": INK, "width": 2, "dash": "dash"},
    {"color": ACCENT, "width": 2.5, "dash": "dot"},
    {"color": INK, "width": 2, "dash": "longdashdot"},
    {"color": QUIET, "width": 2, "dash": "longdash"},
    {"color": QUIET, "width": 2, "dash": "dot"},
)
AFTER = (1, 2, 3, 5, 8, 12, 20, 30, 50, 80)
NAME = "Chance to have found the shift"


def finding_curves(rows: tuple[FindingCurve, ...]) -> go.Figure:
    """One curve a chart over the jobs since the shift."""
    if not rows:
        return nothing_yet("No charts for this wish")
    domain = (0.0, 0.94)
    return new_figure(
        [_curve(row, LINES[n % len(LINES)]) for n, row in enumerate(rows)],
        annotations=[lane_title(f"{NAME}, %", domain=domain)],
        margin={"l": 48, "r": 12, "t": 8, "b": 48},
        xaxis={
            "range": [0, len(rows[0].found) - 1],
            "title": {"text": "jobs since the shift", "font": {"size": 13}},
            "showgrid": False,
            "nticks": 10,
        },
        narrow={"margin.l": 40, "margin.r": 4, "xaxis.nticks": 5},
        **lane_axis(0, domain=domain, reach=(0.0, 100.0), write=lambda tick: f"{tick:.0f}"),
    )


def finding_table(rows: tuple[FindingCurve, ...]) -> Table:
    """One line for some of the jobs since the shift."""
    headings = ("Jobs since the shift", *(f"{row.chart}, %" for row in rows))
    last = len(rows[0].found) - 1 if rows else 0
    return table(
        headings,
        (
            (str(jobs), *(f"{row.found[jobs] * 100:.0f}" for row in rows))
            for jobs in AFTER
            if jobs <= last
        ),
    )


def _curve(row: FindingCurve, line: dict[str, Any]) -> go.Scatter:
    jobs = list(range(len(row.found)))
    return go.Scatter(
        x=jobs,
        y=[share * 100 for share in row.found],
        mode="lines",
        line={**line, "shape": "hv"},
        name=plain(row.chart),
        hoverinfo="text",
        hovertext=[
            f"{plain(row.chart)}<br>{share:.0%} within {n} jobs"
            for n, share in zip(jobs, row.found, strict=True)
        ],
    )
