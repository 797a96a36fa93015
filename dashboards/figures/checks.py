"""A gauge against standards over time: what it read over or under, and the calibrations between."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lengths import SHOWN, ShownUnit
from dashboards.figures.rows import GaugeChecks
from dashboards.figures.services import near_ones, room_for, service_marks, shop_clock
from dashboards.figures.strip import (
    LIMIT_LINE,
    RUNNING_LINE,
    key,
    lane_axis,
    lane_title,
    path,
    ruled_edge,
)
from dashboards.figures.study import HAND_MARKS
from dashboards.figures.table import Table, table
from dashboards.figures.theme import INK, new_figure, nothing_yet, padded, plain


def gauge_checks(rows: GaugeChecks, *, unit: str = "mm") -> go.Figure:
    """One lane on a calendar: a mark a check, a mark of its own for each standard."""
    if not rows.points:
        return nothing_yet("Not checked against a standard yet")
    shown = SHOWN[unit]
    times = [point.at for point in rows.points] + [tick.at for tick in rows.services]
    air = max((max(times) - min(times)) * 0.04, timedelta(days=1))
    since, until = shop_clock(min(times) - air), shop_clock(max(times) + air)
    groups = near_ones(rows.services, within=(max(times) - min(times)) * 0.02)
    domain = (0.0, 1.0 - max(room_for(groups), 0.06))
    ticks: list[dict[str, Any]] = []
    names: list[dict[str, Any]] = []
    for group in groups:
        lines, name = service_marks(group, top=domain[1])
        ticks, names = [*ticks, *lines], [*names, name]
    edge = partial(ruled_edge, 0, since=since, until=until)
    edges = [edge(at=shown.of(side * rows.allowed_mm)) for side in (-1, 1)]
    level = edge(at=0.0, line={"color": INK, "width": 1})
    values = [*(point.off_mm for point in rows.points), -rows.allowed_mm, rows.allowed_mm]
    return new_figure(
        [*_standards(rows, shown), *_drift(rows, shown)],
        shapes=[*edges, level, *ticks],
        annotations=[lane_title(f"Reading minus standard, {unit}", domain=domain), *names],
        margin={"l": 56, "r": 12, "t": 30, "b": 44},
        xaxis={"type": "date", "range": [since, until], "showgrid": False, "nticks": 8},
        narrow={"margin.l": 48, "margin.r": 4, "xaxis.nticks": 4},
        **lane_axis(
            0,
            domain=domain,
            reach=shown.of_pair(padded(values)),
            write=partial(shown.own_digits, signed=True),
        ),
    )


def gauge_checks_table(rows: GaugeChecks, *, unit: str = "mm") -> Table:
    """One line a check, newest first."""
    shown = SHOWN[unit]
    headings = ("Checked", "Standard", f"Reading, {unit}", f"Over (+) or under, {unit}")
    return table(
        headings,
        (
            (
                f"{point.at:%d %b %Y}",
                point.standard,
                shown.digits(point.value_mm),
                shown.digits(point.off_mm, signed=True),
            )
            for point in reversed(rows.points)
        ),
    )


def _standards(rows: GaugeChecks, shown: ShownUnit) -> list[go.Scatter]:
    names = list(dict.fromkeys(point.standard for point in rows.points))
    return [_standard(rows, name, number, shown) for number, name in enumerate(names)]


def _standard(rows: GaugeChecks, name: str, number: int, shown: ShownUnit) -> go.Scatter:
    symbol, colour = HAND_MARKS[number % len(HAND_MARKS)]
    own = [point for point in rows.points if point.standard == name]
    return go.Scatter(
        x=[shop_clock(point.at) for point in own],
        y=[shown.of(point.off_mm) for point in own],
        mode="markers",
        marker={
            "symbol": symbol,
            "size": 10,
            "color": colour,
            "line": {"width": 2, "color": colour},
        },
        name=plain(name),
        showlegend=True,
        hoverinfo="text",
        hovertext=[
            f"{plain(name)}, {point.at:%d %b %Y}<br>{shown.text(point.off_mm, signed=True)}"
            for point in own
        ],
    )


def _drift(rows: GaugeChecks, shown: ShownUnit) -> list[go.Scatter]:
    allowed: list[Any] = [key("what a calibration is to hold", mode="lines", line=LIMIT_LINE)]
    if rows.line is None:
        return allowed
    ends: list[tuple[datetime, float]] = list(rows.line)
    x, y = [shop_clock(at) for at, _ in ends], [shown.of(off) for _, off in ends]
    return [
        path(0, x=x, y=y, line=RUNNING_LINE),
        key("drift", mode="lines", line=RUNNING_LINE),
        *allowed,
    ]
