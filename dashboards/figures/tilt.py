"""A fixture's tilts on its own clock: a pen stroke for each job, the estimate, the allowed circle.

The face shows the side-to-side difference as a vector: how far out is how uneven, which way is
where the gap is widest. What the fixture does again and again gathers on one side.
"""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboards.figures.face import ROUND, Face
from dashboards.figures.lengths import SHOWN, ShownUnit, whole_degrees
from dashboards.figures.rows import TiltClock, TiltEstimate, TiltStroke
from dashboards.figures.table import Table, table
from dashboards.figures.theme import ACCENT, BAND, INK, new_figure, plain

STROKE = 0.07
AGES = ((0.35, "earlier"), (0.65, "last 20"), (1.0, "last 5"))


def tilt_clock(rows: TiltClock, *, unit: str = "mm") -> go.Figure:
    """The clock face: strokes darker the newer, an ellipse for the estimate, the allowed circle."""
    shown = SHOWN[unit]
    reach_mm = _reach_mm(rows)
    face = Face()
    face.dial(zero="")
    _index_mark(face)
    face.band(0.0, rows.allowed_mm / reach_mm, color=BAND, name="allowed")
    face.circle(rows.allowed_mm / reach_mm, color=INK, width=1.5)
    for share, (strength, name) in zip(_by_age(rows.strokes), AGES, strict=True):
        _strokes(face, share, reach_mm, shown, strength=strength, name=name)
    if rows.estimate is not None:
        _estimate(face, rows.estimate, reach_mm, rows.allowed_mm, shown)
    return new_figure(
        face.traces,
        shapes=face.shapes,
        annotations=face.notes,
        **face.axes((0, 1), (0, 1)),
    )


def tilt_clock_table(rows: TiltClock, *, unit: str = "mm") -> Table:
    """Each job's side-to-side difference and direction, newest first."""
    shown = SHOWN[unit]
    headings = ("Job", "Measured", f"Side to side, {unit}", "Wide toward (fixture clock)")
    return table(
        headings,
        (
            (s.job, f"{s.at:%d %b %Y}", shown.digits(s.side_to_side_mm), whole_degrees(s.wide_deg))
            for s in reversed(rows.strokes)
        ),
    )


def _reach_mm(rows: TiltClock) -> float:
    """The side-to-side difference at the face's edge: past the allowed circle and every stroke."""
    sizes = [s.side_to_side_mm for s in rows.strokes]
    if rows.estimate is not None:
        sizes.append(float(np.hypot(rows.estimate.cos_mm, rows.estimate.sin_mm)))
    return max([rows.allowed_mm * 1.25, *(size * 1.1 for size in sizes)])


def _index_mark(face: Face) -> None:
    face.add(
        [0.0, -4.0, 4.0, 0.0],
        [0.99, 1.10, 1.10, 0.99],
        fill="toself",
        fillcolor=INK,
        line={"width": 0},
        showlegend=False,
    )
    face.note("index mark", 0.0, 1.12, yanchor="bottom", font={"color": INK})


def _by_age(strokes: tuple[TiltStroke, ...]) -> tuple[tuple[TiltStroke, ...], ...]:
    return strokes[:-20], strokes[-20:-5], strokes[-5:]


def _strokes(
    face: Face,
    strokes: tuple[TiltStroke, ...],
    reach_mm: float,
    shown: ShownUnit,
    *,
    strength: float,
    name: str,
) -> None:
    """Short radial strokes that end at each job's tilt, and an unseen point there for the hover."""
    if not strokes:
        return
    deg = np.array([s.wide_deg for s in strokes])
    size = np.array([s.side_to_side_mm for s in strokes]) / reach_mm
    gap = np.full(deg.size, np.nan)
    along = np.column_stack([np.maximum(size - STROKE, 0.0), size, gap]).ravel()
    face.add(
        np.repeat(deg, 3),
        along,
        line={"color": INK, "width": 2 + strength},
        opacity=strength,
        name=name,
        connectgaps=False,
    )
    face.add(
        deg,
        size,
        mode="markers",
        marker={"size": 5, "color": INK},
        opacity=strength,
        showlegend=False,
        hovertext=[
            f"{plain(s.job)}, {s.at:%d %b %Y}<br>{shown.text(s.side_to_side_mm)} side to side, "
            f"wide toward {whole_degrees(s.wide_deg)}"
            for s in strokes
        ],
    )


def ellipse_of(estimate: TiltEstimate) -> tuple[np.ndarray, np.ndarray]:
    """Points of the ellipse that holds `coverage` of a two-dimensional normal; cos part, sin part.

    In two dimensions the squared distance is chi-squared with 2 degrees of freedom, whose quantile
    is -2 log(1 - coverage) exactly.
    """
    spread = np.array(
        [
            [estimate.cos_variance, estimate.covariance],
            [estimate.covariance, estimate.sin_variance],
        ]
    )
    width, way = np.linalg.eigh(spread)
    size = np.sqrt(-2 * np.log1p(-estimate.coverage) * np.maximum(width, 0.0))
    turn = np.radians(ROUND)
    points = way @ (size[:, None] * np.array([np.cos(turn), np.sin(turn)]))
    return estimate.cos_mm + points[0], estimate.sin_mm + points[1]


def _estimate(
    face: Face, estimate: TiltEstimate, reach_mm: float, allowed_mm: float, shown: ShownUnit
) -> None:
    """The ellipse, an arrow from the centre to its middle, and the same in words below."""
    size_mm = float(np.hypot(estimate.cos_mm, estimate.sin_mm))
    wide_deg = float(np.degrees(np.arctan2(estimate.sin_mm, estimate.cos_mm))) % 360.0
    cos_mm, sin_mm = ellipse_of(estimate)
    words = (
        f"estimate: {shown.text(size_mm)} side to side, wide toward {whole_degrees(wide_deg)}<br>"
        f"the ellipse holds it {estimate.coverage:.0%} of the time"
    )
    face.add(
        np.degrees(np.arctan2(sin_mm, cos_mm)),
        np.hypot(cos_mm, sin_mm) / reach_mm,
        line={"color": ACCENT, "width": 3},
        name="estimate",
    )
    face.arrow(wide_deg, 0.0, size_mm / reach_mm, color=ACCENT)
    face.add(
        wide_deg,
        size_mm / reach_mm,
        mode="markers",
        marker={"size": 14, "color": ACCENT, "opacity": 0},
        hovertext=[words],
        showlegend=False,
    )
    face.under(
        f"wide toward {whole_degrees(wide_deg)}",
        f"{shown.text(size_mm)} side to side",
        f"{shown.text(allowed_mm)} allowed",
    )
