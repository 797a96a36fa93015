"""A clock face to draw on: 0 at the top, clockwise, in plain x and y so that a circle stays round.

Radius 1 is the edge of the face. The face runs clockwise as seen from the head end; `mirrored`
gives the same face as seen from the tailstock. The room round it is kept for words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import plotly.graph_objects as go

from dashboards.figures.theme import INK, QUIET, RULE, TYPE

ROUND = np.linspace(0.0, 360.0, 181)
SIDE_ROOM, VALUE_ROOM = 1.32, 1.6
HEAD_ROOM = 1.26
LINE = 0.15


@dataclass
class Face:
    """One face of a drawing. `number` 1 uses the axes x and y, 2 uses x2 and y2."""

    number: int = 1
    mirrored: bool = False
    traces: list[go.Scatter] = field(default_factory=list)
    shapes: list[dict[str, Any]] = field(default_factory=list)
    notes: list[dict[str, Any]] = field(default_factory=list)
    has_values: bool = False
    lines_below: int = 0

    @property
    def axis(self) -> str:
        return "" if self.number == 1 else str(self.number)

    def xy(self, deg: Any, radius: Any) -> tuple[np.ndarray, np.ndarray]:
        """Clock degrees and radius (scalars or arrays) to the drawing's x and y."""
        turn = np.radians(np.asarray(deg, dtype=float))
        x = np.asarray(radius) * np.sin(turn)
        return (-x if self.mirrored else x), np.asarray(radius) * np.cos(turn)

    def add(self, deg: Any, radius: Any, **style: Any) -> None:
        """A trace through points by degrees and radius; silent on hover unless it has text."""
        x, y = self.xy(deg, radius)
        style.setdefault("mode", "lines")
        style["line"] = {"simplify": False, **style.get("line", {})}
        if "hovertext" in style:
            style["hoverinfo"] = "text"
        else:
            style.setdefault("hoverinfo", "skip")
        self.traces.append(
            go.Scatter(
                x=np.atleast_1d(x).round(5).tolist(),
                y=np.atleast_1d(y).round(5).tolist(),
                xaxis=f"x{self.axis}",
                yaxis=f"y{self.axis}",
                **style,
            )
        )

    def circle(
        self, radius: float, *, color: str = RULE, width: float = 1, dash: str = "solid"
    ) -> None:
        """A plain ring under the traces."""
        self.shapes.append(
            {
                "type": "circle",
                "x0": -radius,
                "x1": radius,
                "y0": -radius,
                "y1": radius,
                "xref": f"x{self.axis}",
                "yref": f"y{self.axis}",
                "layer": "below",
                "line": {"color": color, "width": width, "dash": dash},
            }
        )

    def band(self, inner: float, outer: float, *, color: str, **style: Any) -> None:
        """A filled ring between two radii."""
        deg = np.concatenate([ROUND, ROUND[::-1]])
        radius = np.concatenate([np.full(ROUND.size, outer), np.full(ROUND.size, inner)])
        self.add(deg, radius, fill="toself", fillcolor=color, line={"width": 0}, **style)

    def teeth(
        self, start: float, end: float, *, every_deg: float, color: str, width: float
    ) -> None:
        """Short radial lines all round, from one radius to another."""
        deg = np.arange(0.0, 360.0, every_deg)
        x0, y0 = self.xy(deg, start)
        x1, y1 = self.xy(deg, end)
        path = "".join(
            f"M{a:.4f},{b:.4f}L{c:.4f},{d:.4f}" for a, b, c, d in zip(x0, y0, x1, y1, strict=True)
        )
        self.shapes.append(
            {
                "type": "path",
                "path": path,
                "xref": f"x{self.axis}",
                "yref": f"y{self.axis}",
                "layer": "below",
                "line": {"color": color, "width": width},
            }
        )

    def note(self, text: str, deg: float = 0.0, radius: float = 0.0, **style: Any) -> None:
        """Words at a place on the face."""
        x, y = self.xy(deg, radius)
        font = {"family": TYPE, "size": 13, "color": QUIET, **style.pop("font", {})}
        self.notes.append(
            {
                "text": text,
                "x": round(float(x), 4),
                "y": round(float(y), 4),
                "xref": f"x{self.axis}",
                "yref": f"y{self.axis}",
                "showarrow": False,
                "font": font,
                **style,
            }
        )

    def arrow(self, deg: float, start: float, end: float, *, color: str = INK) -> None:
        """An arrow along one direction, from one radius to another."""
        tail_x, tail_y = (round(float(v), 4) for v in self.xy(deg, start))
        head_x, head_y = (round(float(v), 4) for v in self.xy(deg, end))
        self.notes.append(
            {
                "text": "",
                "x": head_x,
                "y": head_y,
                "ax": tail_x,
                "ay": tail_y,
                "xref": f"x{self.axis}",
                "yref": f"y{self.axis}",
                "axref": f"x{self.axis}",
                "ayref": f"y{self.axis}",
                "showarrow": True,
                "arrowhead": 2,
                "arrowwidth": 2.5,
                "arrowcolor": color,
            }
        )

    def key(self, name: str, **style: Any) -> None:
        """A line in the legend that stands for several traces."""
        self.add(np.nan, np.nan, mode="lines+markers", name=name, **style)

    def dial(self, *, zero: str, values: Mapping[float, str] | None = None) -> None:
        """The edge, a tick every 30 degrees, words at the four quarters; `zero` names 0.

        `values` are short texts to print just outside the edge, by degrees.
        """
        values = values or {}
        self.has_values = bool(values)
        self.circle(1.0, color=QUIET, width=1.25)
        self.teeth(1.0, 1.03, every_deg=30.0, color=QUIET, width=1)
        self.teeth(1.0, 1.06, every_deg=90.0, color=INK, width=2)
        for deg, text in {0.0: zero, 90.0: "90°", 180.0: "180°", 270.0: "270°"}.items():
            away = -16 if deg == 180.0 else 16
            self._outside(text, deg, yshift=away if deg in values else 0)
        for deg, text in values.items():
            self._outside(text, deg, font={"color": INK, "size": 12, "weight": 700})

    def _outside(self, text: str, deg: float, **style: Any) -> None:
        """Words just outside the edge, on the side of the point that faces away from the face."""
        x, y = (float(v) for v in self.xy(deg, 1.0))
        xanchor = "center" if abs(x) < 0.3 else "left" if x > 0 else "right"
        yanchor = "middle" if abs(y) < 0.3 else "bottom" if y > 0 else "top"
        self.note(text, deg, 1.09, xanchor=xanchor, yanchor=yanchor, **style)

    def under(self, *lines: str) -> None:
        """Lines of words below the face, the first one bold."""
        radius = self._bottom()
        for number, text in enumerate(lines):
            weight = 700 if number == 0 else 400
            look = {"size": 14, "color": INK, "weight": weight}
            self.note(text, 180.0, radius + LINE * number, yanchor="top", font=look)
        self.lines_below += len(lines)

    def _bottom(self) -> float:
        return HEAD_ROOM + LINE * (self.has_values + self.lines_below)

    def axes(self, x_domain: tuple[float, float], y_domain: tuple[float, float]) -> dict[str, Any]:
        """Layout entries that keep this face round inside its part of the drawing."""
        side = VALUE_ROOM if self.has_values else SIDE_ROOM
        return {
            f"xaxis{self.axis}": {
                "visible": False,
                "range": [-side, side],
                "constrain": "domain",
                "domain": list(x_domain),
            },
            f"yaxis{self.axis}": {
                "visible": False,
                "range": [-self._bottom(), HEAD_ROOM + LINE * self.has_values],
                "constrain": "domain",
                "domain": list(y_domain),
                "anchor": f"x{self.axis}",
                "scaleanchor": f"x{self.axis}",
            },
        }
