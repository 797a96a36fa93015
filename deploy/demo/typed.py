"""What the demo's people read off and type: true lengths in the steps of their instruments."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import numpy as np

from deploy.demo.season import POSITIONS, FloatArray
from qc.models import Gauge
from qc.operations.reading_rows import ReadingIn
from qc.units import Length, Unit, mm

DIAL_STEP_MM = Decimal("0.002")


def gap_entries(
    gaps_mm: FloatArray, *, positions_deg: Sequence[int], gauge: Gauge
) -> list[ReadingIn]:
    """gaps_mm: (positions, pieces)."""
    unit = Unit(gauge.step_unit)
    per_mm = Decimal(1) if unit == Unit.MM else Decimal("25.4") / 1000
    return [
        ReadingIn(
            length=_in_steps(Length(Decimal(float(gap)) / per_mm, unit), gauge),
            position_deg=Decimal(position),
            piece=piece,
        )
        for position, row in zip(positions_deg, gaps_mm, strict=True)
        for piece, gap in enumerate(row, start=1)
    ]


def mistyped(right: ReadingIn, *, gauge: Gauge) -> ReadingIn:
    """The same entry a tenth too wide."""
    wrong = Length(right.length.value * Decimal("1.1"), right.length.unit)
    return ReadingIn(
        length=_in_steps(wrong, gauge), position_deg=right.position_deg, piece=right.piece
    )


def dial_entries(off_centre_mm: float, *, toward_deg: float) -> list[ReadingIn]:
    """A dial's readings round a fixture that stands off centre."""
    return [
        ReadingIn(length=_on_dial(off_centre_mm, at - toward_deg), position_deg=Decimal(at))
        for at in POSITIONS
    ]


def _on_dial(off_centre_mm: float, from_high_deg: float) -> Length:
    reading_mm = off_centre_mm * np.cos(np.radians(from_high_deg))
    return mm(round(reading_mm / float(DIAL_STEP_MM)) * DIAL_STEP_MM)


def _in_steps(length: Length, gauge: Gauge) -> Length:
    """What the gauge would show: the nearest of its steps, in its own unit."""
    step = Decimal(gauge.step_value)
    return Length((length.value / step).quantize(Decimal(1)) * step, length.unit)
