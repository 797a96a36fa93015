"""One shared time strip with a lane for each channel; service events cross every lane.

Tolerance is a pale band, chart limits are ruled lines, a signal is a tall diamond that says in
words which rule fired.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lane_words import heading, in_digits, scaled, words, writer
from dashboards.figures.lengths import ABSENT, SHOWN, ShownUnit
from dashboards.figures.rows import Band, Lane, LanePoint, TimeLanes
from dashboards.figures.services import near_ones, room_for, service_marks, shop_clock
from dashboards.figures.strip import (
    JOB_MARK,
    RUNNING_LINE,
    SERVICE_LINE,
    SIGNAL_MARK,
    axis_name,
    dots,
    key,
    lane_axis,
    lane_domains,
    lane_title,
    limits_key,
    path,
    quiet_band,
    ruled_edge,
    tolerance_key,
)
from dashboards.figures.table import Table, table
from dashboards.figures.theme import new_figure, nothing_yet, padded

NEAR = 0.04


def time_lanes(rows: TimeLanes, *, unit: str = "mm") -> go.Figure:
    """The strip: lanes under each other, service events as full-height ticks with their names."""
    times = _times(rows)
    if not times:
        return nothing_yet("No finished jobs yet")
    shown = SHOWN[unit]
    since, until = min(times), max(times)
    air = max((until - since) * 0.02, timedelta(days=1))
    services = near_ones(rows.services, within=(until - since) * NEAR)
    top = 1.0 - room_for(services)
    layout: dict[str, Any] = {}
    traces: list[go.Scatter] = _keys(rows)
    shapes: list[dict[str, Any]] = []
    notes: list[dict[str, Any]] = []
    for number, (lane, domain) in enumerate(
        zip(rows.lanes, lane_domains(len(rows.lanes), top=top), strict=True)
    ):
        reach = _reach(lane, shown)
        layout |= lane_axis(number, domain=domain, reach=reach, write=writer(lane, shown))
        notes.append(lane_title(heading(lane, shown), domain=domain))
        shapes += _lane_shapes(number, lane, reach, shown)
        traces += _lane_traces(number, lane, shown)
    for group in services:
        ticks, name = service_marks(group, top=top)
        shapes += ticks
        notes.append(name)
    return new_figure(
        traces,
        shapes=shapes,
        annotations=notes,
        margin={"l": 56, "r": 12, "t": 8, "b": 32},
        xaxis={
            "anchor": axis_name(len(rows.lanes) - 1),
            "type": "date",
            "range": [shop_clock(since - air), shop_clock(until + air)],
            "nticks": 8,
            "showgrid": False,
        },
        narrow={"xaxis.nticks": 3, "xaxis.tickangle": 0, "margin.l": 48, "margin.r": 4},
        **layout,
    )


def time_lanes_table(rows: TimeLanes, *, unit: str = "mm", with_limits: bool = False) -> Table:
    """Jobs and service events in order of time, one column a lane, newest first.

    with_limits: the limits each job was held against stand beside it.
    """
    shown = SHOWN[unit]
    cells: dict[tuple[datetime, str], dict[int, LanePoint]] = {}
    for number, lane in enumerate(rows.lanes):
        for point in lane.points:
            cells.setdefault((point.at, point.job), {})[number] = point
    lines = [(key, found, "") for key, found in cells.items()]
    lines += [((event.at, ABSENT), {}, event.name) for event in rows.services]
    lines.sort(key=lambda line: line[0][0], reverse=True)
    marks = " or ".join(dict.fromkeys(lane.mark_name for lane in rows.lanes)) or "signal"
    headings = [column for lane in rows.lanes for column in _columns(lane, shown, with_limits)]
    return table(
        ("When", "Job", *headings, f"{marks.capitalize()} or service"),
        (
            (
                f"{at:%d %b %Y %H:%M}",
                job,
                *(
                    cell
                    for n, lane in enumerate(rows.lanes)
                    for cell in _cells(found.get(n), lane, shown, with_limits)
                ),
                service or _signals(found, rows.lanes),
            )
            for (at, job), found, service in lines
        ),
    )


def _columns(lane: Lane, shown: ShownUnit, with_limits: bool) -> list[str]:
    name = heading(lane, shown)
    if not (with_limits and lane.stretches):
        return [name]
    return [name, "Lower limit", "Upper limit"]


def _cells(point: LanePoint | None, lane: Lane, shown: ShownUnit, with_limits: bool) -> list[str]:
    own = ABSENT if point is None else in_digits(point.value, lane, shown)
    if not (with_limits and lane.stretches):
        return [own]
    then = [one for one in lane.stretches if point and one.since <= point.at <= one.until]
    held = then[-1].limits if then else Band(None, None)
    bounds = (held.low, held.high)
    return [own, *(ABSENT if b is None else in_digits(b, lane, shown) for b in bounds)]


def _signals(found: dict[int, LanePoint], lanes: tuple[Lane, ...]) -> str:
    said = [f"{lanes[n].name}: {point.signal}" for n, point in found.items() if point.signal]
    return "; ".join(said)


def _times(rows: TimeLanes) -> list[datetime]:
    points = [point.at for lane in rows.lanes for point in lane.points]
    return points + [event.at for event in rows.services] if points else []


def _reach(lane: Lane, shown: ShownUnit) -> tuple[float, float]:
    values = [point.value for point in lane.points] + [value for _, value in lane.running]
    for band in (lane.tolerance, *(stretch.limits for stretch in lane.stretches)):
        values += [bound for bound in (band.low, band.high) if bound is not None] if band else []
    low, high = padded(values or [0.0, 1.0])
    low = low if lane.is_signed else max(low, 0.0)
    return scaled(low, lane, shown), scaled(high, lane, shown)


def _lane_shapes(
    number: int, lane: Lane, reach: tuple[float, float], shown: ShownUnit
) -> list[dict[str, Any]]:
    shapes = []
    if lane.tolerance is not None:
        low, high = (
            edge if bound is None else scaled(bound, lane, shown)
            for bound, edge in zip((lane.tolerance.low, lane.tolerance.high), reach, strict=True)
        )
        shapes.append(quiet_band(number, low=low, high=high))
    for stretch in lane.stretches:
        for bound in (stretch.limits.low, stretch.limits.high):
            if bound is not None:
                edge = scaled(bound, lane, shown)
                since, until = shop_clock(stretch.since), shop_clock(stretch.until)
                shapes.append(ruled_edge(number, since=since, until=until, at=edge))
    return shapes


def _lane_traces(number: int, lane: Lane, shown: ShownUnit) -> list[go.Scatter]:
    traces = []
    if lane.running:
        x = [shop_clock(at) for at, _ in lane.running]
        y = [scaled(value, lane, shown) for _, value in lane.running]
        traces.append(path(number, x=x, y=y, line=RUNNING_LINE))
    for is_signal, mark in ((False, JOB_MARK), (True, SIGNAL_MARK)):
        points = [point for point in lane.points if bool(point.signal) is is_signal]
        traces.append(
            dots(
                number,
                x=[shop_clock(point.at) for point in points],
                y=[scaled(point.value, lane, shown) for point in points],
                words=[words(point, lane, shown) for point in points],
                mark=mark,
            )
        )
    return traces


def _is_marked(lane: Lane) -> bool:
    return any(point.signal for point in lane.points)


def _keys(rows: TimeLanes) -> list[go.Scatter]:
    """The legend: only what the lanes really show."""
    keys = [key("one job", mode="markers", marker=JOB_MARK)]
    for name in dict.fromkeys(lane.running_name for lane in rows.lanes if lane.running):
        keys.append(key(name, mode="lines", line=RUNNING_LINE))
    if any(lane.stretches for lane in rows.lanes):
        keys.append(limits_key())
    if any(lane.tolerance for lane in rows.lanes):
        keys.append(tolerance_key())
    for name in dict.fromkeys(lane.mark_name for lane in rows.lanes if _is_marked(lane)):
        keys.append(key(name, mode="markers", marker=SIGNAL_MARK))
    if rows.services:
        keys.append(key("service", mode="lines", line=SERVICE_LINE))
    return keys
