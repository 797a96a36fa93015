"""Lanes that share one horizontal axis: what time lanes and shop charts have in common."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.theme import ACCENT, BAND, INK, QUIET, SHEET, plain

GAP = 0.06
LIMIT_LINE = {"color": INK, "width": 1.5, "dash": "longdash"}
RUNNING_LINE = {"color": ACCENT, "width": 2.5}
SERVICE_LINE = {"color": QUIET, "width": 1.25, "dash": "dot"}


def lane_domains(count: int, *, top: float = 1.0) -> list[tuple[float, float]]:
    """The vertical share of each lane, first lane uppermost, below `top`."""
    height = (top - GAP * (count - 1)) / count
    tops = [top - lane * (height + GAP) for lane in range(count)]
    return [(max(high - height, 0.0), high) for high in tops]


def axis_name(lane: int) -> str:
    """ "y" for lane 0, "y2" for lane 1: how Plotly names them."""
    return "y" if lane == 0 else f"y{lane + 1}"


def lane_axis(
    lane: int,
    *,
    domain: tuple[float, float],
    reach: tuple[float, float],
    write: Callable[[float], str],
) -> dict[str, Any]:
    """The layout entry of one lane's own vertical axis; `write` gives a tick its words."""
    ticks = round_ticks(*reach)
    return {
        axis_name(lane).replace("y", "yaxis", 1): {
            "domain": list(domain),
            "range": list(reach),
            "tickvals": ticks,
            "ticktext": [write(tick) for tick in ticks],
            "tickfont": {"size": 12},
            "showgrid": True,
            "automargin": True,
        }
    }


def round_ticks(low: float, high: float, *, most: int = 5) -> list[float]:
    """Multiples of 1, 2 or 5 times a power of ten between two values, `most` at the most."""
    size = Decimal(1).scaleb(math.floor(math.log10((high - low) / most)))
    step = next(size * n for n in (1, 2, 5, 10) if (high - low) / float(size * n) < most)
    first, last = math.ceil(low / float(step)), math.floor(high / float(step))
    return [float(step * n) for n in range(first, last + 1)]


def lane_title(text: str, *, domain: tuple[float, float]) -> dict[str, Any]:
    """The lane's name and unit, above its upper left corner."""
    return {
        "text": plain(text),
        "x": 0,
        "xref": "paper",
        "xanchor": "left",
        "y": domain[1],
        "yref": "paper",
        "yanchor": "bottom",
        "showarrow": False,
        "bgcolor": SHEET,
        "font": {"size": 13, "color": INK, "weight": 700},
    }


def quiet_band(lane: int, *, low: float, high: float) -> dict[str, Any]:
    """A tolerance: a pale band across the lane."""
    return {
        "type": "rect",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": axis_name(lane),
        "y0": low,
        "y1": high,
        "layer": "below",
        "fillcolor": BAND,
        "line": {"width": 0},
    }


def ruled_edge(
    lane: int, *, since: Any, until: Any, at: float, line: Mapping[str, Any] = LIMIT_LINE
) -> dict[str, Any]:
    """A chart limit: a firm ink line for as long as it held."""
    return {
        "type": "line",
        "xref": "x",
        "x0": since,
        "x1": until,
        "yref": axis_name(lane),
        "y0": at,
        "y1": at,
        "layer": "between",
        "line": dict(line),
    }


def key(name: str, **style: Any) -> go.Scatter:
    """A line in the legend for marks that are drawn as shapes or in several lanes."""
    return go.Scatter(x=[None], y=[None], name=name, hoverinfo="skip", **style)


def tolerance_key() -> go.Scatter:
    return key("tolerance", mode="markers", marker={"symbol": "square", "size": 16, "color": BAND})


def limits_key() -> go.Scatter:
    return key("chart limits", mode="lines", line=LIMIT_LINE)


JOB_MARK = {"symbol": "circle", "size": 6, "color": QUIET}
SIGNAL_MARK = {
    "symbol": "diamond-tall",
    "size": 15,
    "color": INK,
    "line": {"color": SHEET, "width": 1.5},
}


def dots(
    lane: int,
    *,
    x: Sequence[Any],
    y: Sequence[float],
    words: Sequence[str],
    mark: Mapping[str, Any],
) -> go.Scatter:
    """Points in a lane, each with its own words on hover."""
    return go.Scatter(
        x=list(x),
        y=list(y),
        mode="markers",
        marker=dict(mark),
        hoverinfo="text",
        hovertext=list(words),
        showlegend=False,
        xaxis="x",
        yaxis=axis_name(lane),
    )


def path(
    lane: int, *, x: Sequence[Any], y: Sequence[float | None], line: Mapping[str, Any]
) -> go.Scatter:
    """A line through a lane, broken where there is no value."""
    return go.Scatter(
        x=list(x),
        y=list(y),
        mode="lines",
        line=dict(line),
        hoverinfo="skip",
        showlegend=False,
        xaxis="x",
        yaxis=axis_name(lane),
    )
