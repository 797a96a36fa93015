"""A shop's or a lathe's jobs one at a time, and their running average, each with its limits."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lengths import ABSENT, SHOWN, ShownUnit
from dashboards.figures.rows import Band, ChartPoint, IndividualsChart
from dashboards.figures.strip import (
    JOB_MARK,
    LIMIT_LINE,
    RUNNING_LINE,
    SIGNAL_MARK,
    dots,
    key,
    lane_axis,
    lane_domains,
    lane_title,
    limits_key,
    path,
    ruled_edge,
)
from dashboards.figures.table import Table, table
from dashboards.figures.theme import QUIET, new_figure, nothing_yet, padded, plain

AVERAGE = "Running average (EWMA)"
CENTRE_LINE = {"color": QUIET, "width": 1}
STEPPED = {**LIMIT_LINE, "shape": "hvh"}
UNSEEN_MARK = {"size": 8, "color": QUIET, "opacity": 0}
NO_LIMITS = Band(None, None)


def individuals_and_ewma(rows: IndividualsChart, *, unit: str = "mm") -> go.Figure:
    """Two lanes on one job count: single jobs above, the running average below."""
    if not rows.points:
        return nothing_yet("No charted jobs yet")
    shown = SHOWN[unit]
    domains = lane_domains(2, top=0.94)
    write = partial(shown.own_digits, signed=True)
    name = f"{rows.quantity}, {unit}" + (f": {rows.note}" if rows.note else "")
    notes = [
        lane_title(name, domain=domains[0]),
        lane_title(f"{AVERAGE}, {unit}", domain=domains[1]),
    ]
    return new_figure(
        [*_keys(rows), *_singles(rows, shown), *_averages(rows, shown)],
        shapes=_limits(rows, shown),
        annotations=notes,
        margin={"l": 56, "r": 12, "t": 8, "b": 44},
        xaxis={
            "anchor": "y2",
            "range": [rows.points[0].number - 0.9, rows.points[-1].number + 0.9],
            "title": {"text": "jobs in cutting order", "font": {"size": 13}},
            "showgrid": False,
            "nticks": 10,
        },
        narrow={"margin.l": 48, "margin.r": 4, "xaxis.nticks": 5},
        **lane_axis(0, domain=domains[0], reach=_reach(rows, shown), write=write),
        **lane_axis(1, domain=domains[1], reach=_average_reach(rows, shown), write=write),
    )


def individuals_and_ewma_table(rows: IndividualsChart, *, unit: str = "mm") -> Table:
    """One line a job, newest first, with the limits it was judged by."""
    shown = SHOWN[unit]
    limits = ("Lower limit", "Upper limit")
    names = (rows.quantity, *limits, AVERAGE, *(f"Average's {name.lower()}" for name in limits))
    headings = ("No.", "Job", "Measured", *(f"{name}, {unit}" for name in names), "Signal")
    return table(headings, (_line(point, rows, shown) for point in reversed(rows.points)))


def _line(point: ChartPoint, rows: IndividualsChart, shown: ShownUnit) -> tuple[str, ...]:
    held = [s.limits for s in rows.stretches if s.first <= point.number <= s.last]
    single, average = (held or [NO_LIMITS])[0], point.average_limits or NO_LIMITS
    numbers = (
        *(point.value_mm, single.low, single.high),
        *(point.average_mm, average.low, average.high),
    )
    return (
        str(point.number),
        point.job,
        f"{point.at:%d %b %Y}",
        *(ABSENT if n is None else shown.digits(n, signed=True) for n in numbers),
        "; ".join(said for said in (point.signal, point.average_signal) if said),
    )


def _reach(rows: IndividualsChart, shown: ShownUnit) -> tuple[float, float]:
    values = [point.value_mm for point in rows.points]
    values += _bounds(stretch.limits for stretch in rows.stretches)
    return shown.of_pair(padded(values))


def _average_reach(rows: IndividualsChart, shown: ShownUnit) -> tuple[float, float]:
    values = [point.average_mm for point in rows.points if point.average_mm is not None]
    values += _bounds(point.average_limits for point in rows.points if point.average_limits)
    return shown.of_pair(padded(values or [0.0]))


def _bounds(bands: Iterable[Band]) -> list[float]:
    return [bound for band in bands for bound in (band.low, band.high) if bound is not None]


def _limits(rows: IndividualsChart, shown: ShownUnit) -> list[dict[str, Any]]:
    shapes = []
    for stretch in rows.stretches:
        edge = partial(ruled_edge, 0, since=stretch.first - 0.5, until=stretch.last + 0.5)
        shapes += [edge(at=shown.of(bound)) for bound in _bounds([stretch.limits])]
        shapes.append(edge(at=shown.of(stretch.centre_mm), line=CENTRE_LINE))
    return shapes


def _singles(rows: IndividualsChart, shown: ShownUnit) -> list[go.Scatter]:
    """Jobs as dots, and as diamonds where a rule fired on the job itself."""
    traces = []
    for is_signal, mark in ((False, JOB_MARK), (True, SIGNAL_MARK)):
        points = [point for point in rows.points if bool(point.signal) is is_signal]
        words = [
            _words(p, f"{rows.quantity} {shown.text(p.value_mm, signed=True)}", p.signal)
            for p in points
        ]
        x, y = [p.number for p in points], [shown.of(p.value_mm) for p in points]
        traces.append(dots(0, x=x, y=y, words=words, mark=mark))
    return traces


def _averages(rows: IndividualsChart, shown: ShownUnit) -> list[go.Scatter]:
    """The average's limits, its line, and diamonds where a rule fired on it."""
    x = [point.number for point in rows.points]
    limits = [point.average_limits or NO_LIMITS for point in rows.points]
    sides = ([one.low for one in limits], [one.high for one in limits])
    traces = [
        path(1, x=x, y=[_maybe(bound, shown) for bound in side], line=STEPPED) for side in sides
    ]
    line = [_maybe(point.average_mm, shown) for point in rows.points]
    traces.append(path(1, x=x, y=line, line=RUNNING_LINE))
    for is_signal, mark in ((False, UNSEEN_MARK), (True, SIGNAL_MARK)):
        points = [point for point in rows.points if bool(point.average_signal) is is_signal]
        drawn = [(p, p.average_mm) for p in points if p.average_mm is not None]
        words = [
            _words(p, f"average {shown.text(average, signed=True)}", p.average_signal)
            for p, average in drawn
        ]
        x, y = [p.number for p, _ in drawn], [shown.of(average) for _, average in drawn]
        traces.append(dots(1, x=x, y=y, words=words, mark=mark))
    return traces


def _maybe(value_mm: float | None, shown: ShownUnit) -> float | None:
    return None if value_mm is None else shown.of(value_mm)


def _words(point: ChartPoint, value: str, signal: str | None) -> str:
    said = f"{plain(point.job)}, {point.at:%d %b %Y}<br>{plain(value)}"
    return f"signal: {plain(signal)}<br>{said}" if signal else said


def _keys(rows: IndividualsChart) -> list[go.Scatter]:
    """The legend: only what the chart really shows."""
    keys = [key("one job", mode="markers", marker=JOB_MARK)]
    keys.append(key("average", mode="lines", line=RUNNING_LINE))
    if rows.stretches:
        keys += [limits_key(), key("centre", mode="lines", line=CENTRE_LINE)]
    if any(point.signal or point.average_signal for point in rows.points):
        keys.append(key("signal", mode="markers", marker=SIGNAL_MARK))
    return keys
