"""When the piston opens each port, and how lowering the cylinder moves that.

Port heights are piston travel from top dead centre to the port's opening edge, in mm, measured
from the crown's edge: the piston opens exhaust and transfer with its crown on the way down, and a
piston-ported intake with its skirt on the way up. A reed or rotary intake has no height here.
"""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.engine_effects.crank import Crank, crank_angle_deg


@dataclass(frozen=True)
class Ports:
    """Travel from top dead centre to each port's edge, mm; None where there is none to time."""

    exhaust_mm: float | None = None
    transfer_mm: float | None = None
    intake_mm: float | None = None


@dataclass(frozen=True)
class PortTiming:
    """Crank degrees. Exhaust and transfer open after top dead centre, the intake before it.

    blowdown_deg: from exhaust opening to transfer opening.
    """

    exhaust_open_deg: float | None
    exhaust_duration_deg: float | None
    transfer_open_deg: float | None
    transfer_duration_deg: float | None
    blowdown_deg: float | None
    intake_open_btdc_deg: float | None
    intake_duration_deg: float | None


def port_timing(ports: Ports, *, crank: Crank, lowering_mm: float = 0.0) -> PortTiming:
    """Timing with the cylinder `lowering_mm` nearer the crankcase (negative: raised).

    Lowering adds to every travel, so exhaust and transfer open later and stay open shorter, and a
    piston-ported intake opens earlier and stays open longer.
    Duration: 2 (180 - angle) for exhaust and transfer, 2 angle for the intake.
    Raises OutOfReach where a port edge lies outside the stroke.
    Source: geometry. Exhaust of a 57 x 110 crank at 33.0 mm: 91.5 degrees (forum figure, found;
    stroke and rod from memory).
    """
    exhaust = _edge_deg(ports.exhaust_mm, lowering_mm, crank, what="The exhaust port's edge")
    transfer = _edge_deg(ports.transfer_mm, lowering_mm, crank, what="The transfer port's edge")
    intake = _edge_deg(ports.intake_mm, lowering_mm, crank, what="The intake port's edge")
    return PortTiming(
        exhaust_open_deg=exhaust,
        exhaust_duration_deg=None if exhaust is None else 2 * (180 - exhaust),
        transfer_open_deg=transfer,
        transfer_duration_deg=None if transfer is None else 2 * (180 - transfer),
        blowdown_deg=None if exhaust is None or transfer is None else transfer - exhaust,
        intake_open_btdc_deg=intake,
        intake_duration_deg=None if intake is None else 2 * intake,
    )


def _edge_deg(
    height_mm: float | None, lowering_mm: float, crank: Crank, *, what: str
) -> float | None:
    if height_mm is None:
        return None
    return crank_angle_deg(height_mm + lowering_mm, crank=crank, what=what)
