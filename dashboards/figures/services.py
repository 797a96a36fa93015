"""Service events in a time strip: a tick through every lane, its name upright above it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from dashboards.figures.rows import ServiceTick
from dashboards.figures.strip import SERVICE_LINE
from dashboards.figures.theme import INK, plain

TITLE = 0.04
LETTER = 0.0125


def shop_clock(at: datetime) -> str:
    """The shop's clock without its offset, which the drawing would ignore anyway."""
    return at.replace(tzinfo=None).isoformat(timespec="seconds")


def near_ones(services: tuple[ServiceTick, ...], *, within: timedelta) -> list[list[ServiceTick]]:
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


def room_for(groups: list[list[ServiceTick]]) -> float:
    """The share of the strip's height that the upright names of the service events need."""
    longest = max((len(name) for group in groups for name in _names(group)), default=0)
    return min(TITLE + LETTER * longest, 0.35)


def service_marks(
    group: list[ServiceTick], *, top: float
) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The ticks of events that share a place, and their names, a line each, above the lanes."""
    end = top + TITLE
    ticks = [
        {
            "type": "line",
            "xref": "x",
            "x0": shop_clock(event.at),
            "x1": shop_clock(event.at),
            "yref": "paper",
            "y0": 0,
            "y1": end,
            "layer": "between",
            "line": dict(SERVICE_LINE),
        }
        for event in group
    ]
    name = {
        "text": "<br>".join(plain(name) for name in _names(group)),
        "x": shop_clock(group[0].at),
        "xref": "x",
        "xanchor": "center",
        "y": end,
        "yref": "paper",
        "yanchor": "bottom",
        "textangle": -90,
        "align": "left",
        "showarrow": False,
        "font": {"size": 12, "color": INK},
    }
    return ticks, name
