"""The verdicts of many jobs read at the same positions, from their gaps in one call.

For questions over a season: which verdicts would another limit, or a gauge found out, change?
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from qc.numerics.positions import layout
from qc.numerics.results import FloatArray
from qc.numerics.tilt import fit_rows
from qc.numerics.verdict.codes import verdict_codes
from qc.numerics.verdict.words import SAME_MM

# Rows worked through at a time, so that what lies between fit and verdict stays in cache.
BLOCK = 16384


def judge_many(
    value_mm: npt.ArrayLike,
    *,
    position_deg: npt.ArrayLike,
    guard_height_mm: npt.ArrayLike,
    guard_tightest_mm: npt.ArrayLike,
    guard_evenness_mm: npt.ArrayLike,
    target_mm: npt.ArrayLike,
    tol_minus_mm: npt.ArrayLike,
    tol_plus_mm: npt.ArrayLike,
    floor_mm: npt.ArrayLike,
    evenness_limit_mm: npt.ArrayLike,
    smallest_chip_mm: npt.ArrayLike,
    room_mm: npt.ArrayLike = math.inf,
) -> npt.NDArray[np.int8]:
    """Fit and judge n jobs; indices into KINDS, shape (n,), each as `judge` would say.

    value_mm: shape (n, k), one gap a position. position_deg: shape (k,), able to hold a tilt.
    Everything else: mm, one number or shape (n,). The next cut is the one `plan_cut` gives with
    the same gasket. Raises AnglesDoNotSpan, BadInput, and as `fit_gaps`.
    """
    place = layout(position_deg)
    value = np.asarray(value_mm, dtype=np.float64)
    target, floor, room = (_floats(limit) for limit in (target_mm, floor_mm, room_mm))
    limits = {
        "guard_height_mm": guard_height_mm,
        "guard_tightest_mm": guard_tightest_mm,
        "guard_evenness_mm": guard_evenness_mm,
        "lower_mm": target - _floats(tol_minus_mm) - SAME_MM,
        "upper_mm": target + _floats(tol_plus_mm) + SAME_MM,
        "floor_mm": floor - SAME_MM,
        "evenness_limit_mm": _floats(evenness_limit_mm) + SAME_MM,
        "smallest_chip_mm": _floats(smallest_chip_mm) - SAME_MM,
        "room_mm": room,
    }
    codes = np.empty(len(value), dtype=np.int8)
    for start in range(0, len(value), BLOCK):
        rows = slice(start, start + BLOCK)
        fits = fit_rows(value[rows], place=place)
        to_target, to_floor = (
            fits.height_mm - _at(target, rows),
            fits.tightest_mm - _at(floor, rows),
        )
        codes[rows] = verdict_codes(
            height_mm=fits.height_mm,
            tightest_mm=fits.tightest_mm,
            side_to_side_mm=fits.side_to_side_mm,
            next_depth_mm=np.minimum(np.minimum(to_target, to_floor), _at(room, rows)),
            **{name: _at(_floats(limit), rows) for name, limit in limits.items()},
        )
    return codes


def _floats(limit: npt.ArrayLike) -> FloatArray:
    return np.asarray(limit, dtype=np.float64)


def _at(limit: FloatArray, rows: slice) -> FloatArray:
    return limit[rows] if limit.ndim else limit
