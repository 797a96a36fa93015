"""Is a value inside its limits, given how sure it is: probability, guard band, decision.

Sources: JCGM 106:2012 clauses 7 and 8; ISO 14253-1 (simple acceptance inside shrunk limits). The
true value is taken as normal about the reading, with nothing assumed about what the shop makes.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from qc.errors import BadInput
from qc.numerics.checks import require_between, require_finite
from qc.numerics.results import Conformity, FloatArray


def conformance_probability(
    y: npt.ArrayLike,
    *,
    u: npt.ArrayLike,
    lower: float | None = None,
    upper: float | None = None,
) -> FloatArray:
    """Chance that the true value lies within its limits, for a reading y of standard uncertainty u.

    y, u: shapes that broadcast, one unit, u >= 0 (0: certain). A limit of None is not there.
    Returns Phi((upper - y) / u) - Phi((lower - y) / u), of the broadcast shape.
    Source: JCGM 106:2012 7.2 to 7.4.
    """
    low, high = _limits(lower, upper)
    reading, spread = np.broadcast_arrays(
        require_finite(y, what="A reading"), require_finite(u, what="An uncertainty")
    )
    if spread.min() < 0:
        raise BadInput(why="An uncertainty is never negative.")
    certain = ((reading >= low) & (reading <= high)).astype(np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        below, above = (low - reading) / spread, (high - reading) / spread
        # On the side of the nearer tail, where the difference keeps its digits.
        flip = below > 0
        share = ndtr(np.where(flip, -below, above)) - ndtr(np.where(flip, -above, below))
    return np.where(spread > 0, share, certain)


def guard_band(u: float, *, probability: float = 0.95) -> float:
    """How far inside a single limit a reading must lie for that probability of conformity."""
    require_between(probability, what="A probability", lowest=0.5, highest=0.999999)
    spread = require_between(u, what="An uncertainty", lowest=0.0, highest=math.inf)
    return float(ndtri(probability)) * spread


def acceptance_interval(
    *, u: float, lower: float, upper: float, probability: float = 0.95
) -> tuple[float, float] | None:
    """Readings that show conformity to two limits at once, or None when no reading can.

    Both tails count, so with a wide u the interval is narrower than two one-sided guard bands.
    Source: JCGM 106:2012 clause 8.
    """
    low, high = _limits(lower, upper)
    guard = guard_band(u, probability=probability)
    middle = (low + high) / 2.0

    def excess(y: float) -> float:
        return float(conformance_probability(y, u=u, lower=low, upper=high)) - probability

    if excess(middle) < 0:
        return None
    if guard == 0 or excess(low + guard) >= 0:
        return low + guard, high - guard
    edge = float(brentq(excess, low + guard, middle, xtol=1e-14 * max(1.0, abs(middle))))
    return edge, high - (edge - low)


def decide(
    y: float, *, lower: float | None = None, upper: float | None = None, guard: float
) -> Conformity:
    """Conforms inside the limits shrunk by the guard; does not outside them grown by it.

    All in one unit, guard >= 0; anything between is undecided. Source: ISO 14253-1 (from memory).
    """
    low, high = _limits(lower, upper)
    reading = float(require_finite(y, what="A reading"))
    band = require_between(guard, what="A guard band", lowest=0.0, highest=math.inf)
    if low + band <= reading <= high - band:
        return "conforms"
    return "undecided" if low - band <= reading <= high + band else "does not conform"


def _limits(lower: float | None, upper: float | None) -> tuple[float, float]:
    if lower is None and upper is None:
        raise BadInput(why="Give a lower limit, an upper limit or both.")
    low = -math.inf if lower is None else float(require_finite(lower, what="A limit"))
    high = math.inf if upper is None else float(require_finite(upper, what="A limit"))
    if low > high:
        raise BadInput(why=f"The lower limit {low:g} is above the upper limit {high:g}.")
    return low, high
