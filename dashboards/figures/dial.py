"""One turn of the dial on the fixture: readings, the offset circle fitted to them, where to tap."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboards.figures.face import ROUND, Face
from dashboards.figures.lengths import SHOWN, ShownUnit, whole_degrees
from dashboards.figures.rows import DialSweep
from dashboards.figures.table import Table, table
from dashboards.figures.theme import ACCENT, BAND, INK, QUIET, new_figure, nothing_yet

REST = 0.62
SWING = 0.26


def dial_sweep(rows: DialSweep, *, unit: str = "mm", from_tailstock: bool = True) -> go.Figure:
    """Readings far enlarged about a resting circle, as seen from the tailstock unless told not."""
    if not rows.readings:
        return nothing_yet("No dial readings yet")
    shown = SHOWN[unit]
    face = Face(mirrored=from_tailstock)
    face.dial(zero="0° index mark")
    scale = _scale(rows)
    if rows.allowed_mm is not None:
        swing = rows.allowed_mm / 2 * scale
        face.band(max(REST - swing, 0.0), REST + swing, color=BAND, name="allowed")
    rest = np.full(ROUND.size, REST)
    face.add(ROUND, rest, line={"color": QUIET, "width": 1.5, "dash": "dot"}, name="no runout")
    fit = REST + _wave(rows, ROUND) * scale
    face.add(ROUND, fit, line={"color": ACCENT, "width": 2.5}, name="fitted circle")
    deg = np.array([r.deg for r in rows.readings])
    dial = np.array([r.value_mm for r in rows.readings])
    face.add(
        deg,
        REST + (dial - rows.mean_mm) * scale,
        mode="markers",
        marker={"symbol": "circle", "size": 10, "color": INK},
        name="dial reading",
        hovertext=[
            f"{whole_degrees(r.deg)}: {shown.text(r.value_mm, signed=True)}" for r in rows.readings
        ],
    )
    _tap(face, rows, shown)
    layout = face.axes((0, 1), (0, 1))
    return new_figure(face.traces, shapes=face.shapes, annotations=face.notes, **layout)


def dial_sweep_table(rows: DialSweep, *, unit: str = "mm") -> Table:
    """Each reading, what the fitted circle says there, and what is left over."""
    shown = SHOWN[unit]
    headings = ("Position", f"Dial, {unit}", f"Fitted, {unit}", f"Left over, {unit}")
    lines = []
    for reading in rows.readings:
        fit_mm = rows.mean_mm + float(_wave(rows, np.array(reading.deg)))
        numbers = (reading.value_mm, fit_mm, reading.value_mm - fit_mm)
        lines.append((whole_degrees(reading.deg), *(shown.digits(n, signed=True) for n in numbers)))
    return table(headings, lines)


def _wave(rows: DialSweep, deg: np.ndarray) -> np.ndarray:
    turn = np.radians(deg)
    return np.asarray(rows.cos_mm * np.cos(turn) + rows.sin_mm * np.sin(turn))


def _scale(rows: DialSweep) -> float:
    """Radius per mm, so that the widest swing or the allowed one just fits."""
    swings = [abs(r.value_mm - rows.mean_mm) for r in rows.readings]
    swings.append(float(np.hypot(rows.cos_mm, rows.sin_mm)))
    swings.append((rows.allowed_mm or 0.0) / 2)
    return SWING / (max(swings) or 1.0)


def _tap(face: Face, rows: DialSweep, shown: ShownUnit) -> None:
    """An arrow from the high spot inward, and below the face what to do in words."""
    viewed = "seen from the tailstock" if face.mirrored else "seen from the head end"
    if rows.tap_mm <= 0:
        face.under("nothing to move", viewed)
        return
    face.arrow(rows.tap_at_deg, REST - 0.1, 0.05)
    place = whole_degrees(rows.tap_at_deg)
    face.under(f"tap at {place}, move {shown.text(rows.tap_mm)}", viewed)
