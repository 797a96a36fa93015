"""A gauge study: every reading beside the mean of its piece, each hand with a mark of its own."""

from __future__ import annotations

from functools import partial
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lengths import SHOWN, ShownUnit
from dashboards.figures.rows import StudyDots
from dashboards.figures.strip import axis_name, key, lane_axis, lane_title, quiet_band
from dashboards.figures.table import Table, table
from dashboards.figures.theme import (
    ACCENT,
    BAND,
    INK,
    QUIET,
    new_figure,
    nothing_yet,
    padded,
    plain,
)

HAND_MARKS = (
    ("circle", ACCENT),
    ("diamond-open", INK),
    ("triangle-up", QUIET),
    ("square-open", ACCENT),
    ("cross-thin-open", INK),
    ("star-triangle-down", QUIET),
)
# Of the room between two pieces, what the hands' marks take.
SPREAD = 0.6


def study_dots(rows: StudyDots, *, unit: str = "mm") -> go.Figure:
    """A rail for each piece with its readings about it; the last rail is each hand's own mean."""
    if not rows.dots:
        return nothing_yet("No readings yet")
    shown = SHOWN[unit]
    pieces = sorted({dot.piece for dot in rows.dots})
    rails = {piece: number for number, piece in enumerate(pieces)}
    last = len(pieces)
    holds = [] if rows.holds_mm is None else [-rows.holds_mm, rows.holds_mm]
    reach = shown.of_pair(padded([*(dot.off_mm for dot in rows.dots), *holds]))
    band = [quiet_band(0, low=shown.of(holds[0]), high=shown.of(holds[1]))] if holds else []
    traces = [
        _hand(rows, number, rails=rails, last=last, shown=shown)
        for number in range(len(rows.hands))
    ]
    if holds:
        band_mark = {"symbol": "square", "size": 16, "color": BAND}
        traces.append(key("95 of 100 readings", mode="markers", marker=band_mark))
    names = [str(piece) for piece in pieces]
    domain = (0.0, 0.94)
    return new_figure(
        traces,
        shapes=[*band, *(_rail(x) for x in range(last + 1)), _level()],
        annotations=[lane_title(f"From its piece's mean, {unit}", domain=domain)],
        margin={"l": 56, "r": 12, "t": 8, "b": 52},
        xaxis={
            "range": [-0.6, last + 0.6],
            "tickvals": list(range(last + 1)),
            "ticktext": [*names, "mean"],
            "title": {"text": "piece", "font": {"size": 13}},
            "showgrid": False,
        },
        narrow={"margin.l": 48, "margin.r": 4},
        **lane_axis(0, domain=domain, reach=reach, write=partial(shown.own_digits, signed=True)),
    )


def study_dots_table(rows: StudyDots, *, unit: str = "mm") -> Table:
    """One line a reading, piece by piece."""
    shown = SHOWN[unit]
    headings = ("Piece", "Hand", "Trial", f"Reading, {unit}", f"From its piece's mean, {unit}")
    ordered = sorted(rows.dots, key=lambda dot: (dot.piece, dot.hand, dot.trial))
    return table(
        headings,
        (
            (
                str(dot.piece),
                rows.hands[dot.hand],
                str(dot.trial),
                shown.digits(dot.value_mm),
                shown.digits(dot.off_mm, signed=True),
            )
            for dot in ordered
        ),
    )


def _hand(
    rows: StudyDots, number: int, *, rails: dict[int, int], last: int, shown: ShownUnit
) -> go.Scatter:
    symbol, colour = HAND_MARKS[number % len(HAND_MARKS)]
    own = [dot for dot in rows.dots if dot.hand == number]
    name = plain(rows.hands[number])
    beside = SPREAD * ((number + 0.5) / len(rows.hands) - 0.5)
    words = [
        f"{name}, piece {dot.piece}, trial {dot.trial}<br>{shown.text(dot.value_mm)}, "
        f"{shown.text(dot.off_mm, signed=True)} from the piece's mean"
        for dot in own
    ]
    lean = rows.leans_mm[number]
    return go.Scatter(
        x=[*(rails[dot.piece] + beside for dot in own), last + beside],
        y=[*(shown.of(dot.off_mm) for dot in own), shown.of(lean)],
        mode="markers",
        marker={
            "symbol": symbol,
            "size": [*(9 for _ in own), 15],
            "color": colour,
            "opacity": 1,
            "line": {"width": 2, "color": colour},
        },
        name=name,
        hoverinfo="text",
        hovertext=[*words, f"{name} on average<br>{shown.text(lean, signed=True)}"],
    )


def _rail(x: float) -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "x",
        "x0": x,
        "x1": x,
        "yref": "paper",
        "y0": 0,
        "y1": 0.94,
        "layer": "below",
        "line": {"color": QUIET, "width": 1, "dash": "dot"},
    }


def _level() -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": axis_name(0),
        "y0": 0,
        "y1": 0,
        "layer": "below",
        "line": {"color": INK, "width": 1},
    }
