"""One face of the gap drawing: rings, curve and points of a set, and the words about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dashboards.figures.face import ROUND, Face
from dashboards.figures.lengths import ShownUnit, whole_degrees
from dashboards.figures.rows import GapRoundBore, GapSet, GapWave
from dashboards.figures.theme import ACCENT, BAND, INK, QUIET

HOLE = 0.42
EDGE = 0.94
MOST_VALUES = 8
VEIL = "rgba(253, 250, 242, 0.75)"
# Rings fall on round numbers of the viewer's own unit.
RING_STEPS = {
    "mm": (0.01, 0.02, 0.05, 0.1, 0.2, 0.5),
    "in": (0.0005, 0.001, 0.002, 0.005, 0.01, 0.02),
    "thou": (0.5, 1.0, 2.0, 5.0, 10.0, 20.0),
}


@dataclass(frozen=True)
class Look:
    """How one set of gaps is drawn and what it is called."""

    name: str
    line: dict[str, Any]
    marker: dict[str, Any]


AS_FOUND = Look(
    "as found",
    {"color": QUIET, "width": 2, "dash": "dash"},
    {"symbol": "square", "size": 9, "color": QUIET},
)
PREDICTED = Look(
    "predicted",
    {"color": ACCENT, "width": 2, "dash": "dot"},
    {"symbol": "circle-open", "size": 9, "color": ACCENT, "line": {"width": 2}},
)
ACHIEVED = Look(
    "achieved",
    {"color": ACCENT, "width": 3},
    {"symbol": "circle", "size": 11, "color": ACCENT},
)


@dataclass(frozen=True)
class Scale:
    """Radius on the face for a gap in mm."""

    lowest_mm: float
    span_mm: float

    @classmethod
    def about(cls, gaps_mm: list[float], span_mm: float) -> Scale:
        """The scale of a given span with these gaps in its middle."""
        return cls((min(gaps_mm) + max(gaps_mm) - span_mm) / 2, span_mm)

    def radius(self, gap_mm: Any) -> np.ndarray:
        share = (np.asarray(gap_mm, dtype=float) - self.lowest_mm) / self.span_mm
        return np.asarray(HOLE + (EDGE - HOLE) * np.clip(share, 0.0, 1.0))


def wave_at(wave: GapWave, deg: np.ndarray) -> np.ndarray:
    turn = np.radians(deg)
    return np.asarray(wave.height_mm + wave.cos_mm * np.cos(turn) + wave.sin_mm * np.sin(turn))


def _rings(face: Face, scale: Scale, shown: ShownUnit) -> None:
    """Faint rings at round gaps, at most four of them, each with its gap."""
    steps_mm = (step * float(shown.mm) for step in RING_STEPS[shown.name])
    step_mm = next((s for s in steps_mm if scale.span_mm / s <= 3.5), scale.span_mm / 3)
    first = np.ceil(scale.lowest_mm / step_mm)
    last = np.floor((scale.lowest_mm + scale.span_mm) / step_mm)
    for gap_mm in np.arange(first, last + 1) * step_mm:
        radius = float(scale.radius(gap_mm))
        face.circle(radius)
        face.note(shown.digits(gap_mm), 45.0, radius, font={"size": 11}, bgcolor=VEIL)


def _set(face: Face, one: GapSet, scale: Scale, shown: ShownUnit, look: Look) -> None:
    """One set's curve, and its points, which say their gap on hover."""
    if one.wave is not None:
        face.add(ROUND, scale.radius(wave_at(one.wave, ROUND)), line=look.line, showlegend=False)
    face.add(
        [deg for deg, _ in one.readings],
        scale.radius([gap for _, gap in one.readings]),
        mode="markers",
        marker=look.marker,
        showlegend=False,
        hovertext=[
            f"{look.name} at {whole_degrees(deg)}: {shown.text(gap)}" for deg, gap in one.readings
        ],
    )
    face.key(look.name, line=look.line, marker=look.marker)


def _words(face: Face, one: GapSet, shown: ShownUnit, *, name: str) -> None:
    """The hole says what this is and its height; below the face, how uneven and which way."""
    face.note(name, 0.0, 0.2)
    if one.height_mm is not None:
        face.note(shown.digits(one.height_mm), font={"size": 20, "color": INK, "weight": 700})
        face.note(shown.name, 180.0, 0.2)
    if one.side_to_side_mm is not None and one.wide_deg is not None:
        wide = whole_degrees(one.wide_deg)
        face.under(f"wide toward {wide}", f"{shown.text(one.side_to_side_mm)} side to side")


def _dial(face: Face, one: GapSet, shown: ShownUnit) -> None:
    values = {deg: shown.digits(gap) for deg, gap in one.readings}
    face.dial(zero="0° exhaust", values=values if len(values) <= MOST_VALUES else None)


def face_before(face: Face, one: GapSet, scale: Scale, shown: ShownUnit) -> None:
    _dial(face, one, shown)
    _rings(face, scale, shown)
    _set(face, one, scale, shown, AS_FOUND)
    _words(face, one, shown, name=AS_FOUND.name)


def face_after(face: Face, rows: GapRoundBore, scale: Scale, shown: ShownUnit) -> None:
    drawn = [(rows.predicted, PREDICTED), (rows.achieved, ACHIEVED)]
    newest, look = next((one, look) for one, look in reversed(drawn) if one is not None)
    _dial(face, newest, shown)
    low, high = rows.tolerance.low, rows.tolerance.high
    if low is not None or high is not None:
        inner = HOLE if low is None else float(scale.radius(low))
        outer = EDGE if high is None else float(scale.radius(high))
        face.band(inner, outer, color=BAND, name="tolerance")
    _rings(face, scale, shown)
    if rows.target_mm is not None:
        target = np.full(ROUND.size, scale.radius(rows.target_mm))
        face.add(ROUND, target, line={"color": INK, "width": 1}, name="target")
    if rows.floor_mm is not None:
        floor = float(scale.radius(rows.floor_mm))
        line = {"color": INK, "width": 2.5}
        face.add(ROUND, np.full(ROUND.size, floor), line=line, name="floor")
        face.teeth(floor, floor - 0.035, every_deg=5.0, color=INK, width=1)
    for one, its_look in drawn:
        if one is not None:
            _set(face, one, scale, shown, its_look)
    _words(face, newest, shown, name=look.name)
