"""Clock positions: what a set of them can tell about a gap, before any gap is read.

Decides here, and nowhere else, which positions hold a tilt vector: three or more with no more than
180 degrees between neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.errors import BadInput
from qc.numerics.checks import require_finite
from qc.numerics.results import FitKind, FloatArray

ANGLE_SLACK_DEG = 1e-6


def clock_deg(position_deg: npt.ArrayLike) -> FloatArray:
    """Positions taken into 0 <= position < 360, to a millionth of a degree. Raises NotFinite."""
    turned = np.round(np.mod(require_finite(position_deg, what="A clock position"), 360.0), 6)
    return np.where(turned >= 360.0, 0.0, turned)


def listed(position_deg: FloatArray) -> str:
    """Positions in words, ascending: "0, 90, 180 degrees"."""
    return ", ".join(f"{position:g}" for position in np.sort(position_deg)) + " degrees"


@dataclass(frozen=True, eq=False)
class Layout:
    """What a set of clock positions can tell, before any gap is read.

    solver: shape (3, n), position values to (height, a, b); None unless kind is "vector".
    unit_covariance: of (height, a, b) for position values of variance 1; None likewise.
    """

    kind: FitKind
    position_deg: FloatArray
    solver: FloatArray | None
    unit_covariance: FloatArray | None


def layout(position_deg: npt.ArrayLike) -> Layout:
    """Sort out positions, shape (n,), n >= 1, degrees. Raises BadInput when one comes twice."""
    position = clock_deg(position_deg).ravel()
    ordered = np.sort(position)
    between = np.diff(np.append(ordered, ordered[0] + 360.0))
    if position.size > 1 and between.min() <= ANGLE_SLACK_DEG:
        raise BadInput(why="A clock position is given twice. Give one value for each position.")
    kind = _kind(position.size, between)
    if kind != "vector":
        return Layout(kind, position, None, None)
    phi = np.radians(position)
    design = np.column_stack([np.ones_like(phi), np.cos(phi), np.sin(phi)])
    solver = np.linalg.pinv(design)
    return Layout(kind, position, solver, solver @ solver.T)


def _kind(positions: int, between: FloatArray) -> FitKind:
    if positions == 1:
        return "reading"
    if positions == 2:
        return "component" if abs(between[0] - 180.0) <= ANGLE_SLACK_DEG else "height"
    return "vector" if between.max() <= 180.0 + ANGLE_SLACK_DEG else "height"
