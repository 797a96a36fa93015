"""The gap round the bore on the engine's clock: as found on one face, after the cut on another.

Both faces share one scale, so a millimetre of unevenness is as long on either; each has its own
zero, since as-found and target lie many times the unevenness apart. The hole carries the height.
"""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

from dashboards.figures.face import ROUND, Face
from dashboards.figures.gap_face import Scale, face_after, face_before, wave_at
from dashboards.figures.lengths import ABSENT, SHOWN, ShownUnit, whole_degrees
from dashboards.figures.rows import GapRoundBore, GapSet
from dashboards.figures.table import Table, table
from dashboards.figures.theme import new_figure, nothing_yet

LEAST_SPAN_MM = 0.06


def gap_round_bore(rows: GapRoundBore, *, unit: str = "mm") -> go.Figure:
    """Gap shapes before and after the cut, with target, tolerance and floor on the second face."""
    shown = SHOWN[unit]
    before = _gaps(rows.as_found)
    after = [*_gaps(rows.predicted), *_gaps(rows.achieved)]
    if not before and not after:
        return nothing_yet("No gaps measured yet")
    if after:
        after += [g for g in (rows.target_mm, rows.floor_mm) if g is not None]
        after += [g for g in (rows.tolerance.low, rows.tolerance.high) if g is not None]
    span_mm = max([LEAST_SPAN_MM] + [(max(g) - min(g)) * 1.25 for g in (before, after) if g])
    faces: list[Face] = []
    if before and rows.as_found is not None:
        faces.append(Face(number=1))
        face_before(faces[-1], rows.as_found, Scale.about(before, span_mm), shown)
    if after:
        faces.append(Face(number=len(faces) + 1))
        face_after(faces[-1], rows, Scale.about(after, span_mm), shown)
    return _side_by_side(faces)


def gap_round_bore_table(rows: GapRoundBore, *, unit: str = "mm") -> Table:
    """Every position's gaps, then height, tightest and side-to-side difference of each set."""
    shown = SHOWN[unit]
    sets = (rows.as_found, rows.predicted, rows.achieved)
    positions = sorted({deg for one in sets if one for deg, _ in one.readings})
    lines = [
        (
            whole_degrees(deg),
            *(_cell(dict(one.readings).get(deg) if one else None, shown) for one in sets),
        )
        for deg in positions
    ]
    for name, key in (
        ("Height", "height_mm"),
        ("Tightest", "tightest_mm"),
        ("Side to side", "side_to_side_mm"),
    ):
        lines.append((name, *(_cell(getattr(one, key) if one else None, shown) for one in sets)))
    wide = (whole_degrees(s.wide_deg) if s and s.wide_deg is not None else ABSENT for s in sets)
    lines.append(("Wide toward", *wide))
    for name, value in (
        ("Target", rows.target_mm),
        ("Tolerance from", rows.tolerance.low),
        ("Tolerance to", rows.tolerance.high),
        ("Floor", rows.floor_mm),
    ):
        lines.append((name, ABSENT, ABSENT, _cell(value, shown)))
    names = ("As found", "Predicted", "Achieved")
    return table(("Position", *(f"{name}, {unit}" for name in names)), lines)


def _cell(value_mm: float | None, shown: ShownUnit) -> str:
    return ABSENT if value_mm is None else shown.digits(value_mm)


def _gaps(one: GapSet | None) -> list[float]:
    """Every gap a set would draw."""
    if one is None:
        return []
    curve = [] if one.wave is None else wave_at(one.wave, ROUND).tolist()
    return [gap for _, gap in one.readings] + curve


def _side_by_side(faces: list[Face]) -> go.Figure:
    """One face fills the drawing; two stand side by side, or one above the other on a phone."""
    layout: dict[str, Any] = {}
    narrow: dict[str, Any] = {}
    if len(faces) == 1:
        layout |= faces[0].axes((0, 1), (0, 1))
    else:
        layout |= faces[0].axes((0, 0.48), (0, 1)) | faces[1].axes((0.52, 1), (0, 1))
        narrow = {
            "xaxis.domain": [0, 1],
            "yaxis.domain": [0.51, 1],
            "xaxis2.domain": [0, 1],
            "yaxis2.domain": [0, 0.49],
        }
    return new_figure(
        [trace for face in faces for trace in face.traces],
        shapes=[shape for face in faces for shape in face.shapes],
        annotations=[note for face in faces for note in face.notes],
        narrow=narrow,
        **layout,
    )
