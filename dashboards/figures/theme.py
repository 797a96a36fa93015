"""One look for every drawing: the page's colours, its type, and a frame that fits phone and bench.

The colours are those of base.css; a test keeps the two alike. A drawing takes its height from the
page, and `narrow` holds the layout changes (dotted names) that figure.js applies on a phone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any

import plotly.graph_objects as go

SHEET = "#fdfaf2"
INK = "#231f1a"
QUIET = "#655c4f"
RULE = "#d6cab4"
BAND = "#d5e5df"
ACCENT = "#0b5f63"
TYPE = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif"

LEGEND_ABOVE = {
    "orientation": "h",
    "x": 0,
    "xanchor": "left",
    "yref": "container",
    "y": 1,
    "yanchor": "top",
    "font": {"size": 13},
    "itemclick": False,
    "itemdoubleclick": False,
}

THEME = go.layout.Template(
    layout={
        "font": {"family": TYPE, "size": 14, "color": INK},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "colorway": [ACCENT, INK, QUIET],
        "hovermode": "closest",
        "hoverlabel": {
            "bgcolor": SHEET,
            "bordercolor": INK,
            "align": "left",
            "font": {"family": TYPE, "size": 14, "color": INK},
        },
        "dragmode": False,
        "xaxis": {
            "fixedrange": True,
            "zeroline": False,
            "linecolor": QUIET,
            "gridcolor": RULE,
            "tickfont": {"size": 12},
        },
        "yaxis": {
            "fixedrange": True,
            "zeroline": False,
            "linecolor": QUIET,
            "gridcolor": RULE,
            "tickfont": {"size": 12},
        },
    }
)


def new_figure(
    traces: Iterable[go.Scatter],
    *,
    narrow: Mapping[str, Any] | None = None,
    legend: Mapping[str, Any] | None = None,
    **layout: Any,
) -> go.Figure:
    """A figure in the shop's look, as wide and as high as the place the page gives it."""
    return go.Figure(
        data=list(traces),
        layout={
            "template": THEME,
            "autosize": True,
            "margin": {"l": 8, "r": 8, "t": 8, "b": 8},
            "legend": {**LEGEND_ABOVE, **(legend or {})},
            "meta": {"narrow": {"legend.font.size": 12, **(narrow or {})}},
            **layout,
        },
    )


def plain(words: str) -> str:
    """Words as they are: plotly.js reads tags in text, and <b> makes it write a style attribute."""
    return escape(words, quote=False)


def nothing_yet(sentence: str) -> go.Figure:
    """An empty drawing that says why it is empty."""
    return new_figure(
        [],
        xaxis={"visible": False},
        yaxis={"visible": False},
        annotations=[
            {
                "text": sentence,
                "x": 0.5,
                "y": 0.5,
                "xref": "paper",
                "yref": "paper",
                "showarrow": False,
                "font": {"size": 16, "color": QUIET},
            }
        ],
    )


def padded(values: Sequence[float], *, share: float = 0.08) -> tuple[float, float]:
    """A range that holds the values with some air; a lone value gets a range about it."""
    low, high = min(values), max(values)
    air = (high - low) * share or abs(high) * share or 1.0
    return low - air, high + air
