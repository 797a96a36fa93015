"""The lanes of a chart page: one way of looking at the same jobs each."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from qc.lookups.charts.chart_lane import (
    ChartJobRow,
    Lanes,
    Span,
)
from qc.lookups.charts.group_lanes import between_lanes, group_lanes
from qc.lookups.charts.judged_lanes import (
    average_lanes,
    singles_lanes,
    sums_lanes,
)
from qc.lookups.charts.unstored_lanes import first_lanes, share_lanes


class View(StrEnum):
    SINGLES = "singles"
    AVERAGE = "average"
    SUMS = "sums"
    SHARE = "share"
    RANGE = "range"
    DEVIATION = "deviation"
    BETWEEN = "between"
    FIRST = "first"


def lanes_of(
    view: View, rows: Sequence[ChartJobRow], *, name: str, band: Span | None, arl: float
) -> Lanes:
    """The lanes of one way of looking. name: of the value charted; arl: the jobs between two false
    signals that the shop wishes for."""
    if view == View.AVERAGE:
        return average_lanes(rows, name, band)
    if view == View.SUMS:
        return sums_lanes(rows, arl)
    if view == View.SHARE:
        return share_lanes(rows)
    if view in (View.RANGE, View.DEVIATION):
        return group_lanes(rows, name, "range" if view == View.RANGE else "sd")
    if view == View.BETWEEN:
        return between_lanes(rows, name)
    if view == View.FIRST:
        return first_lanes(rows, arl)
    return singles_lanes(rows, name, band)
