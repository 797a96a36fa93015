"""What the sums need to know of one engine as it stands."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.checks import require_length_mm
from qc.numerics.engine_effects.crank import Crank
from qc.numerics.engine_effects.ring_ends import RingData
from qc.numerics.engine_effects.squish_flow import SquishBand
from qc.numerics.engine_effects.timing import Ports


@dataclass(frozen=True)
class EngineGeometry:
    """One engine as found. Bore, stroke and rod are needed; None leaves out what hangs on it.

    Port heights are piston travel from top dead centre to the opening edge. clearance_cc goes with
    the squish as found. bearing_radial_mm is the play of all bearings together; carbon_mm the
    allowance for deposits. exhaust_floor_mm is travel to the exhaust port's lower edge, and
    skirt_below_crown_mm how far the skirt's edge on that side is under the crown's edge: both are
    needed to see the skirt uncover the port.
    Raises RodTooShort, OutOfReach, BadInput, NotFinite, NegativeLength, LengthTooLarge.
    """

    bore_mm: float
    stroke_mm: float
    rod_mm: float
    exhaust_mm: float | None = None
    transfer_mm: float | None = None
    intake_mm: float | None = None
    clearance_cc: float | None = None
    band_width_mm: float | None = None
    rpm_loaded: float | None = None
    rpm_free: float | None = None
    reciprocating_kg: float | None = None
    rod_shank_mm2: float | None = None
    bearing_radial_mm: float | None = None
    skirt_clearance_mm: float | None = None
    skirt_length_mm: float | None = None
    carbon_mm: float | None = None
    spark_btdc_deg: float | None = None
    flange_mm: float | None = None
    exhaust_floor_mm: float | None = None
    skirt_below_crown_mm: float | None = None
    ring: RingData | None = None

    def __post_init__(self) -> None:
        require_length_mm(self.bore_mm, what="The bore", above_zero=True)
        _ = self.crank, self.band  # either refuses what it is made of

    @property
    def crank(self) -> Crank:
        return Crank(self.stroke_mm, self.rod_mm)

    @property
    def ports(self) -> Ports:
        return Ports(self.exhaust_mm, self.transfer_mm, self.intake_mm)

    @property
    def band(self) -> SquishBand | None:
        if self.band_width_mm is None:
            return None
        return SquishBand(self.bore_mm, self.band_width_mm)
