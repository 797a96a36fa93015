"""One shared time strip with a lane for each channel; service events cross every lane.

Tolerance is a pale band, chart limits are ruled lines, a signal is a tall diamond that says in
words which rule fired.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lengths import ABSENT, MINUS, SHOWN, ShownUnit
from dashboards.figures.rows import Lane, LanePoint, ServiceTick, TimeLanes
from dashboards.figures.strip import (
    JOB_MARK,
    RUNNING_LINE,
    SERVICE_LINE,
    SIGNAL_MARK,
    axis_name,
    dots,
    full_height_tick,
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
from dashboards.figures.theme import INK, new_figure, nothing_yet, padded, plain

NEAR = 0.04
TITLE = 0.04
LETTER = 0.0125


def time_lanes(rows: TimeLanes, *, unit: str = "mm") -> go.Figure:
    """The strip: lanes under each other, service events as full-height ticks with their names."""
    times = _times(rows)
    if not times:
        return nothing_yet("No finished jobs yet")
    shown = SHOWN[unit]
    since, until = min(times), max(times)
    air = max((until - since) * 0.02, timedelta(days=1))
    services = _near(rows.services, within=(until - since) * NEAR)
    top = 1.0 - _room_for(services)
    layout: dict[str, Any] = {}
    traces: list[go.Scatter] = _keys(rows)
    shapes: list[dict[str, Any]] = []
    notes: list[dict[str, Any]] = []
    for number, (lane, domain) in enumerate(
        zip(rows.lanes, lane_domains(len(rows.lanes), top=top), strict=True)
    ):
        reach = _reach(lane, shown)
        layout |= lane_axis(number, domain=domain, reach=reach, write=_writer(lane, shown))
        notes.append(lane_title(_heading(lane, shown), domain=domain))
        shapes += _lane_shapes(number, lane, reach, shown)
        traces += _lane_traces(number, lane, shown)
    for group in services:
        shapes += [full_height_tick(_naive(event.at), top=top + TITLE) for event in group]
        notes.append(_service_name(group, bottom=top + TITLE))
    return new_figure(
        traces,
        shapes=shapes,
        annotations=notes,
        margin={"l": 56, "r": 12, "t": 8, "b": 32},
        xaxis={
            "anchor": axis_name(len(rows.lanes) - 1),
            "type": "date",
            "range": [_naive(since - air), _naive(until + air)],
            "nticks": 8,
            "showgrid": False,
        },
        narrow={"xaxis.nticks": 3, "xaxis.tickangle": 0, "margin.l": 48, "margin.r": 4},
        **layout,
    )


def time_lanes_table(rows: TimeLanes, *, unit: str = "mm") -> Table:
    """Jobs and service events in order of time, one column a lane, newest first."""
    shown = SHOWN[unit]
    cells: dict[tuple[datetime, str], dict[int, LanePoint]] = {}
    for number, lane in enumerate(rows.lanes):
        for point in lane.points:
            cells.setdefault((point.at, point.job), {})[number] = point
    lines = [(key, found, "") for key, found in cells.items()]
    lines += [((event.at, ABSENT), {}, event.name) for event in rows.services]
    lines.sort(key=lambda line: line[0][0], reverse=True)
    headings = ("When", "Job", *(_heading(lane, shown) for lane in rows.lanes), "Signal or service")
    return table(
        headings,
        (
            (
                f"{at:%d %b %Y %H:%M}",
                job,
                *(
                    _number(found[n].value, lane, shown) if n in found else ABSENT
                    for n, lane in enumerate(rows.lanes)
                ),
                service or _signals(found, rows.lanes),
            )
            for (at, job), found, service in lines
        ),
    )


def _signals(found: dict[int, LanePoint], lanes: tuple[Lane, ...]) -> str:
    said = [f"{lanes[n].name}: {point.signal}" for n, point in found.items() if point.signal]
    return "; ".join(said)


def _times(rows: TimeLanes) -> list[datetime]:
    points = [point.at for lane in rows.lanes for point in lane.points]
    return points + [event.at for event in rows.services] if points else []


def _naive(at: datetime) -> str:
    """The shop's clock without its offset, which the drawing would ignore anyway."""
    return at.replace(tzinfo=None).isoformat(timespec="seconds")


def _scaled(value: float, lane: Lane, shown: ShownUnit) -> float:
    return shown.of(value) if lane.is_length else value


def _number(value: float, lane: Lane, shown: ShownUnit) -> str:
    if lane.is_length:
        return shown.digits(value, signed=lane.is_signed)
    return f"{value:.2f}".replace("-", MINUS)


def _writer(lane: Lane, shown: ShownUnit) -> Callable[[float], str]:
    """A tick's words: its value is in the viewer's unit already."""
    if lane.is_length:
        return lambda tick: shown.own_digits(tick, signed=lane.is_signed)
    return lambda tick: f"{tick:g}".replace("-", MINUS)


def _heading(lane: Lane, shown: ShownUnit) -> str:
    return f"{lane.name}, {shown.name}" if lane.is_length else lane.name


def _reach(lane: Lane, shown: ShownUnit) -> tuple[float, float]:
    values = [point.value for point in lane.points] + [value for _, value in lane.running]
    for band in (lane.tolerance, *(stretch.limits for stretch in lane.stretches)):
        values += [bound for bound in (band.low, band.high) if bound is not None] if band else []
    low, high = padded(values or [0.0, 1.0])
    low = low if lane.is_signed else max(low, 0.0)
    return _scaled(low, lane, shown), _scaled(high, lane, shown)


def _lane_shapes(
    number: int, lane: Lane, reach: tuple[float, float], shown: ShownUnit
) -> list[dict[str, Any]]:
    shapes = []
    if lane.tolerance is not None:
        low, high = (
            edge if bound is None else _scaled(bound, lane, shown)
            for bound, edge in zip((lane.tolerance.low, lane.tolerance.high), reach, strict=True)
        )
        shapes.append(quiet_band(number, low=low, high=high))
    for stretch in lane.stretches:
        for bound in (stretch.limits.low, stretch.limits.high):
            if bound is not None:
                edge = _scaled(bound, lane, shown)
                since, until = _naive(stretch.since), _naive(stretch.until)
                shapes.append(ruled_edge(number, since=since, until=until, at=edge))
    return shapes


def _lane_traces(number: int, lane: Lane, shown: ShownUnit) -> list[go.Scatter]:
    traces = []
    if lane.running:
        x = [_naive(at) for at, _ in lane.running]
        y = [_scaled(value, lane, shown) for _, value in lane.running]
        traces.append(path(number, x=x, y=y, line=RUNNING_LINE))
    for is_signal, mark in ((False, JOB_MARK), (True, SIGNAL_MARK)):
        points = [point for point in lane.points if bool(point.signal) is is_signal]
        traces.append(
            dots(
                number,
                x=[_naive(point.at) for point in points],
                y=[_scaled(point.value, lane, shown) for point in points],
                words=[_words(point, lane, shown) for point in points],
                mark=mark,
            )
        )
    return traces


def _words(point: LanePoint, lane: Lane, shown: ShownUnit) -> str:
    unit = f" {shown.name}" if lane.is_length else ""
    value = f"{plain(lane.name)} {_number(point.value, lane, shown)}{unit}"
    said = f"{plain(point.job)}, {point.at:%d %b %Y}<br>{value}"
    return f"signal: {plain(point.signal)}<br>{said}" if point.signal else said


def _near(services: tuple[ServiceTick, ...], *, within: timedelta) -> list[list[ServiceTick]]:
    """Events too close for two names side by side share one name."""
    groups: list[list[ServiceTick]] = []
    for event in sorted(services, key=lambda one: one.at):
        if groups and event.at - groups[-1][0].at <= within:
            groups[-1].append(event)
        else:
            groups.append([event])
    return groups


def _names(group: list[ServiceTick]) -> list[str]:
    return list(dict.fromkeys(event.name for event in group))


def _room_for(groups: list[list[ServiceTick]]) -> float:
    """The share of the strip's height that the upright names of the service events need."""
    longest = max((len(name) for group in groups for name in _names(group)), default=0)
    return min(TITLE + LETTER * longest, 0.35)


def _service_name(group: list[ServiceTick], *, bottom: float) -> dict[str, Any]:
    """Upright words above the tick; events that share a place get a line each."""
    return {
        "text": "<br>".join(plain(name) for name in _names(group)),
        "x": _naive(group[0].at),
        "xref": "x",
        "xanchor": "center",
        "y": bottom,
        "yref": "paper",
        "yanchor": "bottom",
        "textangle": -90,
        "align": "left",
        "showarrow": False,
        "font": {"size": 12, "color": INK},
    }


def _keys(rows: TimeLanes) -> list[go.Scatter]:
    """The legend: only what the lanes really show."""
    points = [point for lane in rows.lanes for point in lane.points]
    keys = [key("one job", mode="markers", marker=JOB_MARK)]
    if any(lane.running for lane in rows.lanes):
        keys.append(key("average", mode="lines", line=RUNNING_LINE))
    if any(lane.stretches for lane in rows.lanes):
        keys.append(limits_key())
    if any(lane.tolerance for lane in rows.lanes):
        keys.append(tolerance_key())
    if any(point.signal for point in points):
        keys.append(key("signal", mode="markers", marker=SIGNAL_MARK))
    if rows.services:
        keys.append(key("service", mode="lines", line=SERVICE_LINE))
    return keys
