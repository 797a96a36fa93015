"""The clocking test: one cylinder cut and measured at two clockings, to part fixture from engine.

A gap tilt is the engine's own plus the fixture's turned with the clocking: t = E + R(clocking) F.
Vectors are gap amplitudes in mm at the measuring radius, a toward 0 degrees and b toward 90,
pointing where the gap is widest; the sums hold in any unit if all use the same one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import BadInput
from qc.numerics.checks import require_finite
from qc.numerics.results import FloatArray
from qc.numerics.runout import RESOLVED
from qc.numerics.tilt import EVEN_MM, direction_deg

LEAST_TURN_DEG = 0.5
USEFUL_TURN_DEG = 60.0
SAME_CLOCKING = (
    "Which of the two leans: both runs stood at one clocking, and only the sum of engine and "
    "fixture shows. Turn the cylinder on the fixture, best by 180 degrees, and run it again."
)
NO_CHECK = (
    "Whether the fixture, the gauge and the way of measuring stayed the same between the runs: two "
    "runs give just enough numbers and leave none over as a check."
)
WHICH_PART = (
    "What in the engine leans: crankcase, rod, piston, head and the way the gap is read all count "
    "as the engine's part."
)
WHAT_REACHES = (
    "How far the fixture itself leans: this is what reaches the gap. Compare it with an indicated "
    "tilt to learn the carry-through."
)


@dataclass(frozen=True, eq=False)
class TiltEstimate:
    """One tilt vector and the covariance of its two components, shape (2, 2), unit squared."""

    a_mm: float
    b_mm: float
    covariance: FloatArray

    @classmethod
    def of(cls, vector: ArrayLike, covariance: ArrayLike) -> TiltEstimate:
        """vector: shape (2,). covariance: shape (2, 2), or one standard uncertainty for both."""
        a, b = require_finite(vector, what="A tilt component", at_least=2).ravel()
        given = require_finite(covariance, what="An uncertainty")
        if given.ndim == 0:
            given = np.eye(2) * given**2
        if given.shape != (2, 2) or np.linalg.eigvalsh(given).min() < -1e-12:
            raise BadInput(why="A tilt needs one uncertainty, or a two by two covariance.")
        return cls(float(a), float(b), given)

    @property
    def vector(self) -> FloatArray:
        return np.array([self.a_mm, self.b_mm])

    @property
    def amount_mm(self) -> float:
        return math.hypot(self.a_mm, self.b_mm)

    @property
    def wide_toward_deg(self) -> float | None:
        return direction_deg(self.a_mm, self.b_mm) if self.amount_mm > EVEN_MM else None

    @property
    def u_amount_mm(self) -> float:
        """Standard uncertainty along the vector; the larger component's when it has no length."""
        if self.amount_mm <= EVEN_MM:
            return math.sqrt(float(np.linalg.eigvalsh(self.covariance).max()))
        along = self.vector / self.amount_mm
        return math.sqrt(float(along @ self.covariance @ along))

    @property
    def is_seen(self) -> bool:
        """Longer than noise alone would make it 19 times in 20."""
        return self.amount_mm > max(RESOLVED * self.u_amount_mm, EVEN_MM)


@dataclass(frozen=True, eq=False)
class ClockingRun:
    """What two runs tell. engine: on the engine's clock. fixture: on the fixture's.

    Both None when the runs stood at one clocking. noise_gain: uncertainty of the fixture's tilt
    over that of the difference between the runs, 1 / (2 sin(turn / 2)); 0.5 at best.
    """

    turn_deg: float
    engine: TiltEstimate | None
    fixture: TiltEstimate | None
    noise_gain: float | None
    tells: tuple[str, ...]
    does_not_tell: tuple[str, ...]


def separate_tilts(
    first: TiltEstimate,
    second: TiltEstimate,
    *,
    first_clocking_deg: float,
    second_clocking_deg: float,
) -> ClockingRun:
    """Engine and fixture parts of two achieved tilts of one cylinder.

    first, second: on the engine's clock, each after a full facing cut at its clocking.
    clocking: the engine's clock position at which the fixture's index mark stood.
    F = (R1 - R2)^-1 (t1 - t2), E = t1 - R1 F, covariances carried through; for a turn of 180
    degrees half the difference and half the sum. One degree of doubt in a clocking is 1/57 of F.
    Raises NotFinite. Source: linear algebra (computed).
    """
    turns = require_finite([first_clocking_deg, second_clocking_deg], what="A clocking")
    turn_deg = float((turns[1] - turns[0]) % 360)
    if min(turn_deg, 360 - turn_deg) < LEAST_TURN_DEG:
        return ClockingRun(
            turn_deg, None, None, None, _same_clocking_tells(first, second), (SAME_CLOCKING,)
        )
    one, other = (rotation(deg) for deg in turns)
    parting = np.linalg.inv(one - other)
    fixture = TiltEstimate.of(
        parting @ (first.vector - second.vector),
        parting @ (first.covariance + second.covariance) @ parting.T,
    )
    from_first, from_second = np.eye(2) - one @ parting, one @ parting
    engine = TiltEstimate.of(
        from_first @ first.vector + from_second @ second.vector,
        from_first @ first.covariance @ from_first.T
        + from_second @ second.covariance @ from_second.T,
    )
    gain = 1 / (2 * math.sin(math.radians(turn_deg) / 2))
    unknown = [NO_CHECK, WHICH_PART, WHAT_REACHES]
    if min(turn_deg, 360 - turn_deg) < USEFUL_TURN_DEG:
        unknown.insert(
            0,
            f"Small tilts: a turn of {min(turn_deg, 360 - turn_deg):.0f} degrees multiplies the "
            f"noise by {gain:.1f}, a turn of 180 degrees would halve it.",
        )
    tells = (_seen("engine", engine), _seen("fixture", fixture))
    return ClockingRun(turn_deg, engine, fixture, gain, tells, tuple(unknown))


def _same_clocking_tells(first: TiltEstimate, second: TiltEstimate) -> tuple[str, ...]:
    apart = TiltEstimate.of(first.vector - second.vector, first.covariance + second.covariance)
    agree = "differ by more than" if apart.is_seen else "agree within"
    return (f"The two runs {agree} the noise: a check of the cut and the measuring.",)


def _seen(whose: str, part: TiltEstimate) -> str:
    stands = "stands above" if part.is_seen else "is not above"
    return f"The {whose}'s tilt {stands} the noise of this run."


def rotation(deg: float) -> FloatArray:
    """R(deg), shape (2, 2): turns a vector so that its direction grows by `deg`."""
    angle = math.radians(deg)
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])
