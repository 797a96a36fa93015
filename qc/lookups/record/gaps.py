"""What a gap reading set says: its position values and the fit round the bore."""

from __future__ import annotations

from dataclasses import dataclass

from qc.models import ReadingSet
from qc.numerics.results import GapFit, PositionValues
from qc.numerics.solder import position_values
from qc.numerics.tilt import fit_gap


@dataclass(frozen=True, eq=False)
class GapSummary:
    values: PositionValues
    fit: GapFit
    gasket_mm: float


def summary_of(reading_set: ReadingSet) -> GapSummary:
    """Position values and fit of the standing readings of an as-found or achieved set."""
    readings = list(reading_set.readings.filter(voided_at=None))
    assert reading_set.gauge is not None  # gap_set_has_gauge_radius_gasket
    values = position_values(
        [float(one.value_mm) for one in readings],
        position_deg=[float(one.position_deg) for one in readings],
        piece=[one.piece for one in readings],
        gauge_step_mm=float(reading_set.gauge.step_mm),
    )
    fit = fit_gap(values.value_mm, position_deg=values.position_deg)
    return GapSummary(values=values, fit=fit, gasket_mm=float(reading_set.base_gasket_mm or 0))
