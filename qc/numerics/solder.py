"""Crushed solder to one gap per clock position, and the spread between pieces.

A piece is one length of solder at one position. It may be squeezed more than once; the thinnest
crush is where the piston came nearest the head, so that is the piece's value. What the positions
say together (height, tilt) is in `tilt.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from qc.errors import BadInput, GapWiderThanSolder
from qc.numerics.checks import (
    LARGEST_GAP_MM,
    require_length_mm,
    require_lengths_mm,
    require_same_length,
)
from qc.numerics.positions import clock_deg
from qc.numerics.results import FloatArray, PositionValues, SolderCrush
from qc.numerics.uncertainty import pooled_sd


def position_values(
    thickness_mm: npt.ArrayLike,
    *,
    position_deg: npt.ArrayLike,
    piece: Sequence[int] | npt.NDArray[np.int64],
    gauge_step_mm: float,
    solder_mm: float | None = None,
) -> PositionValues:
    """Gap at each clock position: the mean over its pieces of each piece's thinnest crush.

    thickness_mm, position_deg, piece: shape (n,), n >= 1, one entry per crush, any order.
        Positions in degrees, taken round the circle (360 is 0); `piece` numbers the pieces within
        a position, so piece 1 at 0 and piece 1 at 180 degrees are two pieces.
    gauge_step_mm: the finest step the gauge shows, mm.
    solder_mm: diameter of the wire before the crush, mm, when known.
    Returns PositionValues; its spread is the standard deviation of pieces within positions, pooled,
    and None when no position has two pieces.
    Raises TooFewReadings, NotFinite, NegativeLength, LengthTooLarge (over 50 mm), BadInput for a
    thickness of 0 or lengths that differ, GapWiderThanSolder.
    """
    require_same_length(thickness=thickness_mm, position=position_deg, piece=piece)
    thickness = _require_crushed(thickness_mm, solder_mm=solder_mm)
    step_mm = require_length_mm(gauge_step_mm, what="The gauge's step", above_zero=True)
    position = clock_deg(position_deg)

    keys, piece_of = np.unique(
        np.column_stack([position, np.asarray(piece, dtype=np.int64)]), axis=0, return_inverse=True
    )
    thinnest = np.full(len(keys), np.inf)
    np.minimum.at(thinnest, piece_of.ravel(), thickness)
    positions, position_of, pieces = np.unique(keys[:, 0], return_inverse=True, return_counts=True)
    value = np.bincount(position_of, weights=thinnest) / pieces
    piece_mm = tuple(thinnest[position_of == k] for k in range(len(positions)))
    spread = pooled_sd(piece_mm)
    return PositionValues(
        position_deg=positions,
        value_mm=value,
        pieces=pieces.astype(np.int64),
        piece_mm=piece_mm,
        spread_mm=spread.sd_mm,
        spread_df=spread.df,
        gauge_too_coarse=spread.sd_mm is not None and spread.sd_mm**2 <= step_mm**2 / 12,
    )


def floored_spread(spread_mm: float, gauge_step_mm: float) -> float:
    """The spread, mm, but never under the step's own standard deviation, step / sqrt(12).

    For use before a logarithm: equal readings mean a coarse gauge, not a spread of nothing.
    """
    spread = require_length_mm(spread_mm, what="A spread")
    step = require_length_mm(gauge_step_mm, what="The gauge's step", above_zero=True)
    return max(spread, step / math.sqrt(12.0))


def solder_crush(diameter_mm: float, *, gap_mm: float) -> SolderCrush:
    """What becomes of a round wire squeezed into a gap: how far it is crushed and how wide it gets.

    Returns SolderCrush(ratio = diameter / gap, width_mm = pi diameter^2 / (4 gap)); the metal's
    section stays the same. Raises GapWiderThanSolder when the wire would not be touched.
    """
    gap = float(_require_crushed(gap_mm, solder_mm=diameter_mm))
    diameter = float(diameter_mm)
    return SolderCrush(ratio=diameter / gap, width_mm=math.pi * diameter**2 / (4.0 * gap))


def _require_crushed(thickness_mm: npt.ArrayLike, *, solder_mm: float | None) -> FloatArray:
    thickness = require_lengths_mm(
        thickness_mm, what="A crushed thickness", at_most_mm=LARGEST_GAP_MM
    )
    if thickness.min() == 0:
        raise BadInput(why="A crushed piece has some thickness. Measure it again.")
    if solder_mm is not None:
        wire = require_length_mm(solder_mm, what="The solder's diameter", at_most_mm=LARGEST_GAP_MM)
        if (thickest := thickness.max()) >= wire:
            raise GapWiderThanSolder(gap_mm=float(thickest), solder_mm=float(wire))
    return thickness
