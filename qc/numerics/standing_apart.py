"""Does one position, or one piece of solder, stand apart by more than repeats explain?

Two questions, each held against the repeatability of a single piece. Do the pieces crushed at one
position agree with each other? And do the positions lie on one plane, as a head and a crown that
are flat must? A set is never changed for standing apart: a person looks, and measures again. A
crown or head that is not flat shows the same, every time it is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import fdtri, stdtrit

from qc.numerics.positions import layout
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.tilt import fit_gap

FALSE_ALARM = 0.01
# Four positions leave one number over, to which each may be the key: the one without which the
# rest hardly tilt is named, if any other would leave at least this many times the tilt.
CLEARLY = 2.0


@dataclass(frozen=True)
class Suspect:
    """by_mm: how far it stands from where the others put it; positive means wider. For pieces, the
    largest less the smallest."""

    position_deg: float
    by_mm: float


@dataclass(frozen=True)
class Apart:
    """One finding. kind: "position" or "pieces". More than one suspect: which it is cannot be told.

    explained_mm: the most that repeats would explain, at a false alarm in a hundred sets.
    """

    kind: Literal["position", "pieces"]
    suspects: tuple[Suspect, ...]
    explained_mm: float


def stands_apart(
    pieces_mm: Sequence[FloatArray],
    *,
    position_deg: FloatArray,
    repeat_sd_mm: float,
    repeat_df: float,
    false_alarm: float = FALSE_ALARM,
) -> tuple[Apart, ...]:
    """What stands apart in one set of gaps, mm.

    pieces_mm: one array a position, each piece's gap, in the order of position_deg.
    repeat_sd_mm: standard deviation of one piece at one position, > 0, from elsewhere than this
        set; repeat_df: the degrees of freedom behind it.
    Pieces: range over repeat_sd of two or more, by Student's t between the two farthest, shared
    out over all pairs (Bonferroni). Positions: `position_apart`, with this set's own pieces pooled
    in. Each question alarms falsely in at most `false_alarm` of sets of normal readings; checked
    by simulation. Raises as `fit_gap`.
    """
    found = [_pieces_apart(pieces_mm, position_deg, repeat_sd_mm, repeat_df, false_alarm)]
    agreeing = [one for one in pieces_mm if one.size > 1]
    if found[0] is None and agreeing:
        # Pieces that agree with the shop's usual repeats make these surer.
        own_df = sum(one.size - 1 for one in agreeing)
        own = sum(float(((one - one.mean()) ** 2).sum()) for one in agreeing)
        repeat_sd_mm = float(np.sqrt((own + repeat_df * repeat_sd_mm**2) / (own_df + repeat_df)))
        repeat_df += own_df
    found.append(
        position_apart(
            np.array([one.mean() for one in pieces_mm]),
            position_deg=position_deg,
            pieces=np.array([one.size for one in pieces_mm]),
            repeat_sd_mm=repeat_sd_mm,
            repeat_df=repeat_df,
            false_alarm=false_alarm,
        )
    )
    return tuple(one for one in found if one is not None)


def _pieces_apart(
    pieces_mm: Sequence[FloatArray],
    position_deg: FloatArray,
    sd_mm: float,
    df: float,
    false_alarm: float,
) -> Apart | None:
    pairs = sum(one.size * (one.size - 1) // 2 for one in pieces_mm)
    if pairs == 0:
        return None
    most = float(stdtrit(df, 1 - false_alarm / (2 * pairs))) * sd_mm * np.sqrt(2)
    ranges = [
        (float(np.ptp(one)), float(at)) for one, at in zip(pieces_mm, position_deg, strict=True)
    ]
    suspects = tuple(Suspect(at, wide) for wide, at in sorted(ranges, reverse=True) if wide > most)
    return Apart("pieces", suspects, most) if suspects else None


def position_apart(
    value_mm: FloatArray,
    *,
    position_deg: FloatArray,
    pieces: FloatArray,
    repeat_sd_mm: float,
    repeat_df: float,
    false_alarm: float = FALSE_ALARM,
) -> Apart | None:
    """The position whose gap the plane through the others does not reach, or None.

    value_mm, position_deg, pieces: shape (n,); mean of so many pieces each. Needs n >= 4 positions
    that hold a tilt, else None. Leave-one-out residual e = r / (1 - h) over its own standard
    deviation, by Student's t, shared out over the n positions (over none of four, whose residuals
    are one number). Suspects: each position without which the rest agree; of four, see CLEARLY.
    Source: studentised deleted residuals, with the variance known from elsewhere (memory; the
    false alarms and the naming simulated).
    """
    place = layout(position_deg)
    n = value_mm.size
    if n < 4 or place.solver is None:
        return None
    phi = np.radians(position_deg)
    design = np.column_stack([np.ones(n), np.cos(phi), np.sin(phi)])
    left = np.eye(n) - design @ np.linalg.pinv(design)
    residual, free = left @ value_mm, np.diag(left)
    u_residual = repeat_sd_mm * np.sqrt((left**2 / pieces).sum(axis=1))
    # A position that alone decides a direction of the plane has no residual to speak of.
    checked = free > 1e-9
    limit = float(stdtrit(repeat_df, 1 - false_alarm / (2 * (1 if n == 4 else n))))
    over = checked & (np.abs(residual) > limit * np.where(checked, u_residual, 1.0))
    if not over.any():
        return None
    apart = residual / np.where(checked, free, 1.0)
    if n == 4:
        keys = _of_four(value_mm, position_deg, np.flatnonzero(over))
    else:
        variance = repeat_sd_mm**2 / float(pieces.mean())
        left_over = np.where(checked, residual**2 / np.where(checked, free, 1.0), 0.0)
        keys = _agreeing_without(residual, left_over, variance, repeat_df, false_alarm)
        if keys.size == 0:  # more than one stands apart: the farthest first
            keys = np.array([int(np.argmax(left_over))])
    suspects = [Suspect(float(position_deg[k]), float(apart[k])) for k in keys]
    first = int(keys[0])
    return Apart(
        "position",
        tuple(sorted(suspects, key=lambda one: -abs(one.by_mm))),
        float(limit * u_residual[first] / free[first]),
    )


def _agreeing_without(
    residual: FloatArray, taken: FloatArray, variance: float, df: float, false_alarm: float
) -> IntArray:
    """Positions without which what is left over is no more than repeats make it.

    taken: what leaving each out takes off the sum of squared residuals.
    """
    left_df = residual.size - 4
    most = float(fdtri(left_df, df, 1 - false_alarm)) * left_df * variance
    return np.flatnonzero((taken > 0) & (float(residual @ residual) - taken <= most))


def _of_four(value_mm: FloatArray, position_deg: FloatArray, keys: IntArray) -> IntArray:
    tilts = []
    for k in keys:
        rest = np.arange(value_mm.size) != k
        fit = fit_gap(value_mm[rest], position_deg=position_deg[rest])
        tilts.append(np.inf if fit.side_to_side_mm is None else fit.side_to_side_mm)
    order = np.argsort(tilts)
    if len(keys) > 1 and tilts[order[1]] >= CLEARLY * tilts[order[0]]:
        return keys[order[:1]]
    return keys[order]
