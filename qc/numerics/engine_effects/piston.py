"""How fast the piston moves and how hard it is turned round, at one steady speed of the engine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.numerics.engine_effects.crank import (
    Crank,
    jennings_acceleration_fts2,
    mean_piston_speed_ms,
    piston_acceleration_ms2,
    piston_speed_ms,
)

MM_PER_INCH = 25.4
HALF_TURN_DEG = np.linspace(0.0, 180.0, 18_001)


@dataclass(frozen=True)
class PistonMotion:
    """At `rpm`, which no cut alters. Speeds m/s, accelerations m/s^2, all sizes without a sign.

    peak_speed_deg: crank degrees after top dead centre. jennings_fts2: the peak acceleration in
    ft/s^2 by the inch form the two-stroke books print.
    """

    rpm: float
    mean_speed_ms: float
    peak_speed_ms: float
    peak_speed_deg: float
    mean_acceleration_ms2: float
    peak_acceleration_ms2: float
    jennings_fts2: float


def piston_motion(crank: Crank, *, rpm: float) -> PistonMotion:
    """Mean and peak of speed and acceleration over a turn at a steady rpm.

    Peaks are the greatest of 18 001 angles over half a turn, which holds them to 1e-8 of their
    size. The mean acceleration is that of its size: four times a turn the piston goes between rest
    and its peak speed. Raises NotFinite, OutOfReach, BadInput on an impossible rpm.
    Source: crank.py's derivatives (computed); Jennings' form as said there.
    """
    speeds = piston_speed_ms(HALF_TURN_DEG, crank=crank, rpm=rpm)
    fastest = int(np.argmax(speeds))
    peak = float(speeds[fastest])
    return PistonMotion(
        rpm=float(rpm),
        mean_speed_ms=mean_piston_speed_ms(crank, rpm=rpm),
        peak_speed_ms=peak,
        peak_speed_deg=float(HALF_TURN_DEG[fastest]),
        mean_acceleration_ms2=4 * peak * rpm / 60,
        peak_acceleration_ms2=float(
            np.abs(piston_acceleration_ms2(HALF_TURN_DEG, crank=crank, rpm=rpm)).max()
        ),
        jennings_fts2=jennings_acceleration_fts2(
            stroke_in=crank.stroke_mm / MM_PER_INCH,
            rod_ratio=crank.rod_mm / crank.stroke_mm,
            rpm=rpm,
        ),
    )
