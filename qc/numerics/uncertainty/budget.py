"""The uncertainty budget of a measured gap: height, side-to-side difference, tightest point.

What is wrong at every position alike (the gauge's calibration, gasket, torque, bearing float)
moves height and tightest point and leaves the tilt alone. What differs from position to position
(the pieces, the gauge's step) reaches the tilt and averages out of the height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.errors import BadInput
from qc.numerics.checks import require_length_mm
from qc.numerics.positions import Layout, layout
from qc.numerics.results import BudgetLine, Combined, FloatArray, GapBudget
from qc.numerics.uncertainty.components import combine, resolution_u

# Repeats this much of a step apart blur the rounding, which then differs between positions and
# averages out (Widrow's condition, from memory). Closer repeats may all be rounded the same way.
BLURRED_FROM_STEPS = 0.5


@dataclass(frozen=True)
class Hands:
    """What people add, from a gauge study; standard deviations in mm, df None where there is none.

    between: from hand to hand, alike at every position of a set that one person reads.
    by_piece: from hand to hand differently on each piece. source: how the study is named.
    """

    between_mm: float
    between_df: float | None
    by_piece_mm: float
    by_piece_df: float | None
    source: str


@dataclass(frozen=True)
class Reach:
    """How much of a standard uncertainty of each position value reaches each result."""

    height: float
    side_to_side: float | None
    tightest: float


def gap_budget(
    *,
    positions: int,
    pieces_per_position: float,
    gauge_step_mm: float,
    gauge_calibration_u_mm: float,
    repeat_sd_mm: float,
    repeat_df: float | None,
    gasket_u_mm: float,
    torque_u_mm: float,
    float_u_mm: float,
    position_deg: npt.ArrayLike | None = None,
    repeat_source: str = "",
    hands: Hands | None = None,
) -> GapBudget:
    """Combine the sources of a gap measured with solder, each given as a standard uncertainty, mm.

    positions, position_deg: how many, and where (degrees); None: evenly spaced from 0.
    pieces_per_position: pieces averaged at each position; the least of them if they differ.
    gauge_step_mm: finest step of the gauge; enters as step / sqrt(12), once per position however
        many pieces are read, since the same mark rounds them the same way.
    repeat_sd_mm, repeat_df: spread of pieces at one position and its freedom (None: infinite).
    repeat_source: where the shop's usual spread comes from, where not from its policy.
    hands: people's share where a gauge study has shown it; freedom under 1 counts as 1.
    gauge_calibration_u_mm, gasket_u_mm, torque_u_mm, float_u_mm: common to all positions.
    Returns GapBudget; side_to_side is None when the positions hold no tilt vector.
    The direction of the tilt is not used: where positions are uneven the worst direction counts.
    Source: JCGM 100:2008 5.1.2, 5.2.2 (common parts), F.2.2.1, G.4.1.
    """
    place = _placed(positions, position_deg)
    if not pieces_per_position >= 1:
        raise BadInput(why="A position has one piece or more.")
    each, common = _reach(place), Reach(1.0, None if place.solver is None else 0.0, 1.0)
    repeat = require_length_mm(repeat_sd_mm, what="The spread of repeats")
    step = require_length_mm(gauge_step_mm, what="The gauge's step", above_zero=True)
    blurred = repeat >= BLURRED_FROM_STEPS * step
    stepped = each if blurred else _at_least(each, common)
    alike = "every position alike"
    lines = [
        _line(
            "repeats",
            "each position",
            "normal",
            repeat / math.sqrt(pieces_per_position),
            each,
            df=repeat_df,
            source=repeat_source,
        ),
        _line("gauge step", "each position", "rectangular", resolution_u(step), stepped),
        _line("gauge calibration", alike, "normal", gauge_calibration_u_mm, common),
        _line("base gasket", alike, "normal", gasket_u_mm, common),
        _line("bolt torque", alike, "normal", torque_u_mm, common),
        _line("bearing float", alike, "rectangular", float_u_mm, common),
    ]
    if hands is not None:
        lines += _of_hands(hands, each=each, common=common)
    lines.sort(key=lambda line: line.u_mm * line.c_tightest, reverse=True)
    return GapBudget(
        lines=tuple(lines),
        height=_combined(lines, [line.c_height for line in lines]),
        side_to_side=(
            None
            if place.solver is None
            else _combined(lines, [line.c_side_to_side or 0.0 for line in lines])
        ),
        tightest=_combined(lines, [line.c_tightest for line in lines]),
    )


def _placed(positions: int, position_deg: npt.ArrayLike | None) -> Layout:
    if positions < 1:
        raise BadInput(why="A gap needs at least one position.")
    if position_deg is None:
        return layout(np.arange(positions) * (360.0 / positions))
    place = layout(position_deg)
    if place.position_deg.size != positions:
        raise BadInput(
            why=f"{positions} positions announced, {place.position_deg.size} directions given."
        )
    return place


def _reach(place: Layout) -> Reach:
    covariance = place.unit_covariance
    if covariance is None:
        return Reach(1.0 / math.sqrt(place.position_deg.size), None, 1.0)
    return Reach(
        height=math.sqrt(covariance[0, 0]),
        side_to_side=2.0 * _worst(covariance, height=0.0),
        tightest=_worst(covariance, height=1.0),
    )


def _worst(covariance: FloatArray, *, height: float) -> float:
    """Largest standard deviation of height x g0 minus the amplitude, over all tilt directions."""
    phi = np.radians(np.arange(0.0, 360.0, 0.5))
    rows = np.column_stack([np.full_like(phi, height), -np.cos(phi), -np.sin(phi)])
    return math.sqrt(float(np.einsum("ij,jk,ik->i", rows, covariance, rows).max()))


def _at_least(each: Reach, common: Reach) -> Reach:
    return Reach(
        max(each.height, common.height), each.side_to_side, max(each.tightest, common.tightest)
    )


def _of_hands(hands: Hands, *, each: Reach, common: Reach) -> list[BudgetLine]:
    """The line between hands always, so that a study which saw none says so."""
    between = _line(
        "hands",
        "every position alike",
        "normal",
        hands.between_mm,
        common,
        df=None if hands.between_df is None else max(1.0, hands.between_df),
        source=hands.source,
    )
    if hands.by_piece_mm == 0:
        return [between]
    by_piece = _line(
        "hands, piece by piece",
        "each position",
        "normal",
        hands.by_piece_mm,
        each,
        df=None if hands.by_piece_df is None else max(1.0, hands.by_piece_df),
        source=hands.source,
    )
    return [between, by_piece]


def _line(
    name: str,
    acts_on: str,
    distribution: str,
    u_mm: float,
    reach: Reach,
    *,
    df: float | None = None,
    source: str = "",
) -> BudgetLine:
    return BudgetLine(
        name=name,
        acts_on=acts_on,
        distribution=distribution,
        u_mm=require_length_mm(u_mm, what=f"The uncertainty of {name}"),
        c_height=reach.height,
        c_side_to_side=reach.side_to_side,
        c_tightest=reach.tightest,
        df=df,
        source=source,
    )


def _combined(lines: list[BudgetLine], reach: list[float]) -> Combined:
    parts = [line.u_mm * share for line, share in zip(lines, reach, strict=True)]
    return combine(parts, [line.df for line in lines])
