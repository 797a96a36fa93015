"""Run length of the tabular CUSUM.

One side stands at u >= 0 (in sigma) and moves to max(0, u + z - k), z ~ N(shift, 1), signalling
above h: an integral equation with an atom at zero (Page 1954), solved at Gauss-Legendre nodes.
Two sides are combined as Lucas & Crosier (Technometrics 1982).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from qc.errors import BadInput
from qc.numerics.run_length.chain import Chain, arl_after_settling
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number


def cusum_chain(*, k: float, h: float, shift: float = 0.0, head_start: float = 0.0) -> Chain:
    """The upper side alone. k, h, head_start: in sigma as charts.cusum_chart; shift in sigma.

    Places: the head start, zero, then the nodes of (0, h]. Relative error of the run length under
    1e-6. Raises NotFinite, BadInput.
    """
    k = require_number(k, what="The allowance k", above=-1e-300)
    h = require_number(h, what="The decision interval h", above=0)
    shift = require_number(shift, what="The shift")
    head_start = require_number(head_start, what="The head start", above=-1e-300, at_most=h)
    node, weight = gauss(0.0, h, 40 + 8 * math.ceil(h))
    place = np.concatenate([[head_start, 0.0], node])
    moves = np.zeros((place.size, place.size))
    drift = place + shift - k
    moves[:, 1] = ndtr(-drift)
    density = np.exp(-((node - drift[:, None]) ** 2) / 2) / math.sqrt(2 * math.pi)
    moves[:, 2:] = density * weight
    start = np.zeros(place.size)
    start[0] = 1.0
    return Chain(start, moves)


def cusum_arl(
    *,
    k: float,
    h: float,
    shift: float = 0.0,
    head_start: float = 0.0,
    sides: int = 2,
    settled: bool = False,
) -> float:
    """Jobs to the first signal, target and sigma known.

    shift: the mean's distance from the target in sigma; upward for one side, either way for two.
    settled: the shift comes after a long time in control without a signal; one side only, because
    two sides that have run together are not two that have run apart.
    Raises NotFinite, BadInput.
    """
    if sides not in (1, 2):
        raise BadInput(why=f"A CUSUM has 1 or 2 sides; got {sides}.")
    up = cusum_chain(k=k, h=h, shift=shift, head_start=head_start)
    if sides == 1:
        return arl_after_settling(cusum_chain(k=k, h=h), up) if settled else up.arl()
    if settled:
        raise BadInput(why="The settled run length is known for one side; ask for sides=1.")
    down = cusum_chain(k=k, h=h, shift=-shift, head_start=head_start)
    up_head, up_zero = up.jobs_left()[:2]
    down_head, down_zero = down.jobs_left()[:2]
    return float(
        (up_head * down_zero + down_head * up_zero - up_zero * down_zero) / (up_zero + down_zero)
    )


@lru_cache(maxsize=256)
def cusum_limit(arl0: float, *, k: float, head_start_share: float = 0.0, sides: int = 2) -> float:
    """The decision interval h, in sigma, that signals once in arl0 jobs in control; arl0 > 1.

    head_start_share: the head start as a share of h, 0 to 1.
    """
    arl0 = require_number(arl0, what="The run length", above=1)

    def excess(h: float) -> float:
        arl = cusum_arl(k=k, h=h, head_start=head_start_share * h, sides=sides)
        return math.log(arl / arl0)

    high = 1.0
    while excess(high) < 0:
        high += 1.0
    if excess(1e-6) > 0:
        raise BadInput(why=f"With k = {k:g} any h signals less than once in {arl0:g} jobs.")
    return float(brentq(excess, 1e-6, high, xtol=1e-9))


def siegmund_arl(*, k: float, h: float, shift: float = 0.0) -> float:
    """One side, upward, from zero: Siegmund's closed form (1985), b = h + 1.166.

    A check by hand, within a few per cent of cusum_arl; use that for limits.
    """
    k = require_number(k, what="The allowance k", above=-1e-300)
    b = require_number(h, what="The decision interval h", above=0) + 1.166
    drift = require_number(shift, what="The shift") - k
    if abs(drift * b) < 1e-6:
        return b**2
    return (math.expm1(-2 * drift * b) + 2 * drift * b) / (2 * drift**2)
