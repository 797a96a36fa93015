"""Flags and services in the months' drawing and its table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.rows import AccuracyOverMonths, MonthTally, ServiceTick
from dashboards.figures.services import TITLE, service_marks, shop_clock
from dashboards.figures.strip import SERVICE_LINE, SIGNAL_MARK, dots, key
from dashboards.figures.theme import plain

SERVICE_MARK = {"symbol": "line-ns-open", "size": 12, "color": SERVICE_LINE["color"]}
FLAG_MARK = {**SIGNAL_MARK, "size": 13}
# Marks stand so far within the lane, as a share of it.
INSIDE = 0.05
TALLIED = (
    "Flags raised",
    "Cause found",
    "None found",
    "Services",
    "Their minutes",
    "Missed",
    "On flagged things",
)


def service_lines(services: Sequence[ServiceTick], *, top: float) -> list[dict[str, Any]]:
    """A tick through the lane for each; too many in a year for their names beside them."""
    return [tick for one in services for tick in service_marks([one], top=top - TITLE)[0]]


def events(rows: AccuracyOverMonths, reach: tuple[float, float]) -> list[go.Scatter]:
    """What each tick and each flag was, on hover: services at the lane's foot, flags at its top."""
    air = INSIDE * (reach[1] - reach[0])
    low, high = reach[0] + air, reach[1] - air
    found = []
    if rows.services:
        words = [f"{plain(one.name)}, {one.at:%d %b %Y}" for one in rows.services]
        at = [one.at for one in rows.services]
        found += [
            _row(at, low, words, SERVICE_MARK),
            key("service", mode="lines", line=SERVICE_LINE),
        ]
    if rows.flags:
        words = [f"flag: {plain(one.says)}, {one.at:%d %b %Y}" for one in rows.flags]
        at = [one.at for one in rows.flags]
        found.append(_row(at, high, words, FLAG_MARK))
        found.append(key("flag", mode="markers", marker=FLAG_MARK))
    return found


def _row(
    at: Sequence[datetime], y: float, words: Sequence[str], mark: dict[str, Any]
) -> go.Scatter:
    return dots(0, x=[shop_clock(one) for one in at], y=[y] * len(at), words=words, mark=mark)


def tally_cells(tally: MonthTally | None) -> tuple[str, ...]:
    """In the order of TALLIED."""
    if tally is None:
        return ("0",) * len(TALLIED)
    counts = (
        tally.raised,
        tally.cause_found,
        tally.none_found,
        tally.services,
        tally.minutes,
        tally.misses,
        tally.on_flagged,
    )
    return tuple(str(one) for one in counts)
