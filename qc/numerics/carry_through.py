"""How much of a fixture's tilt reaches the squish gap: the carry-through, 0 to 1.

A leaning cylinder takes the piston along, fully across the pin where it can turn, less along it. So
tilt times diameter is an upper bound, and the share that shows must be estimated from clocking
runs of a fixture whose tilt was indicated. Reasoned; no published figure is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.errors import BadInput, TooFewReadings
from qc.numerics.checks import require_finite, require_length_mm
from qc.numerics.clocking import TiltEstimate, rotation
from qc.numerics.results import FloatArray
from qc.numerics.runout import RESOLVED

PIN_DEG = 90.0
"""The pin lies across the exhaust: engine clock 90 to 270."""


@dataclass(frozen=True)
class Share:
    """value: part of the tilt that reached the gap. u: its standard uncertainty."""

    value: float
    u: float


@dataclass(frozen=True)
class CarryThrough:
    """overall, across_pin, along_pin: None where the turn moved the indicated tilt too little.

    follows: whether one share explains the change within its noise; None without `overall`.
    """

    overall: Share | None
    across_pin: Share | None
    along_pin: Share | None
    follows: bool | None


def indicated_gap_tilt(
    *, x_mrad: float, y_mrad: float, u_mrad: float, radius_mm: float
) -> TiltEstimate:
    """An indicated axis tilt as the gap tilt it could make at most, on the fixture's clock.

    Amplitude = tilt x measuring radius; u_mrad: of either component.
    """
    reach = require_length_mm(radius_mm, what="The measuring radius", above_zero=True) / 1000
    tilt = require_finite([x_mrad, y_mrad], what="A tilt component") * reach
    return TiltEstimate.of(tilt, require_length_mm(u_mrad, what="The tilt's uncertainty") * reach)


def carry_through(
    first: TiltEstimate,
    second: TiltEstimate,
    *,
    first_clocking_deg: float,
    second_clocking_deg: float,
    indicated: TiltEstimate,
    pin_deg: float = PIN_DEG,
) -> CarryThrough:
    """Share of an indicated tilt that showed as the cylinder was turned on the fixture.

    first, second: gap tilts on the engine's clock. indicated: `indicated_gap_tilt`.
    The engine's own tilt drops out of t1 - t2 = K (R1 - R2) f; overall is weighted least squares
    for one share, the others are K's two entries across and along the pin. An estimate may fall
    outside 0 to 1 by noise. Source: linear algebra (computed).
    """
    pin = float(require_finite(pin_deg, what="The pin's direction"))
    to_pin = rotation(90.0 - pin)
    turning = to_pin @ (rotation(first_clocking_deg) - rotation(second_clocking_deg))
    seen = to_pin @ (first.vector - second.vector)
    noise = to_pin @ (first.covariance + second.covariance) @ to_pin.T
    could = turning @ indicated.vector
    could_noise = turning @ indicated.covariance @ turning.T

    across, along = (
        _share(seen[[i]], noise[[i]][:, [i]], could[[i]], could_noise[[i]][:, [i]]) for i in (0, 1)
    )
    overall = _share(seen, noise, could, could_noise)
    follows = None
    if overall is not None:
        left = seen - overall.value * could
        square = np.array([-could[1], could[0]]) / np.linalg.norm(could)
        spread = float(square @ (noise + overall.value**2 * could_noise) @ square)
        follows = abs(float(square @ left)) <= 1.96 * math.sqrt(spread)
    return CarryThrough(overall, across, along, follows)


def pooled_share(shares: Sequence[Share]) -> Share:
    """The shop's own share from several runs, weighted by 1 / u^2.

    Its uncertainty is widened where the runs disagree more than theirs explain (Birge, memory).
    Raises TooFewReadings without a share, BadInput on an uncertainty of zero.
    """
    if not shares:
        raise TooFewReadings(needed=1, got=0)
    value = require_finite([share.value for share in shares], what="A share")
    u = require_finite([share.u for share in shares], what="A share's uncertainty")
    if u.min() <= 0:
        raise BadInput(why="A share without an uncertainty cannot be weighed against others.")
    weight = u**-2.0
    mean = float(weight @ value / weight.sum())
    chi2 = float(weight @ (value - mean) ** 2)
    birge = max(1.0, chi2 / (len(shares) - 1)) if len(shares) > 1 else 1.0
    return Share(mean, math.sqrt(birge / weight.sum()))


def _share(
    seen: FloatArray, noise: FloatArray, could: FloatArray, could_noise: FloatArray
) -> Share | None:
    """Weighted least squares of seen = k could, shapes (m,) and (m, m), m of 1 or 2."""
    length = float(np.linalg.norm(could))
    unit = could / length if length > 0 else could
    if length <= RESOLVED * math.sqrt(float(unit @ could_noise @ unit)) or length == 0:
        return None
    pull = np.linalg.pinv(noise) @ could if noise.any() else could
    pull = pull / float(pull @ could)
    value = float(pull @ seen)
    return Share(value, math.sqrt(float(pull @ (noise + value**2 * could_noise) @ pull)))
