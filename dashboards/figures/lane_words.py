"""How a lane's values are scaled and worded; shared by the strip and its table twin."""

from __future__ import annotations

from collections.abc import Callable

from dashboards.figures.lengths import MINUS, ShownUnit
from dashboards.figures.rows import Lane, LanePoint
from dashboards.figures.theme import plain


def scaled(value: float, lane: Lane, shown: ShownUnit) -> float:
    return shown.of(value) if lane.is_length else value


def in_digits(value: float, lane: Lane, shown: ShownUnit) -> str:
    if lane.is_length:
        return shown.digits(value, signed=lane.is_signed)
    return f"{value:.2f}".replace("-", MINUS)


def writer(lane: Lane, shown: ShownUnit) -> Callable[[float], str]:
    """A tick's words: its value is in the viewer's unit already."""
    if lane.is_length:
        return lambda tick: shown.own_digits(tick, signed=lane.is_signed)
    return lambda tick: f"{tick:g}".replace("-", MINUS)


def heading(lane: Lane, shown: ShownUnit) -> str:
    return f"{lane.name}, {shown.name}" if lane.is_length else lane.name


def words(point: LanePoint, lane: Lane, shown: ShownUnit) -> str:
    unit = f" {shown.name}" if lane.is_length else ""
    value = f"{plain(lane.name)} {in_digits(point.value, lane, shown)}{unit}"
    said = f"{plain(point.job)}, {point.at:%d %b %Y}<br>{value}"
    return f"{lane.mark_name}: {plain(point.signal)}<br>{said}" if point.signal else said
