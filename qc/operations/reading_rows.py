"""Reading rows: as they come in, as they stand, and how they are saved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError, transaction

from qc.actor import Actor
from qc.errors import AlreadyThere
from qc.models import Reading, ReadingSet
from qc.units import Length, Unit


@dataclass(frozen=True)
class ReadingIn:
    """One value as somebody took it. `field` is what the form or the request calls it."""

    length: Length
    position_deg: Decimal = Decimal(0)
    piece: int = 1
    crush: int = 1
    plane: int = 1
    field: str = "readings"


def standing_readings(reading_set: ReadingSet) -> list[Reading]:
    """The readings of a set that nobody voided."""
    return list(reading_set.readings.filter(voided_at=None))


def as_read(reading: Reading) -> ReadingIn:
    return ReadingIn(
        length=Length(reading.value_mm, Unit.MM),
        position_deg=reading.position_deg,
        piece=reading.piece,
        crush=reading.crush,
        plane=reading.plane,
    )


def save_readings(
    set_: ReadingSet,
    readings: Sequence[ReadingIn],
    *,
    by: Actor,
    at: datetime,
    confirmed: bool = False,
) -> list[Reading]:
    rows = [
        Reading(
            set=set_,
            kind=set_.kind,
            position_deg=one.position_deg % 360,
            plane=one.plane,
            piece=one.piece,
            crush=one.crush,
            value_mm=one.length.mm,
            entered_value=f"{one.length.value:f}",
            entered_unit=one.length.unit.value,
            gauge_step_mm=None if set_.gauge is None else set_.gauge.step_mm,
            unit_confirmed=confirmed,
            at=at,
            by=by.person,
            token=by.token,
        )
        for one in readings
    ]
    try:
        with transaction.atomic():
            return Reading.objects.bulk_create(rows)
    except IntegrityError:
        where = _first_twice(set_, readings)
        raise AlreadyThere(
            what="A reading of that piece and crush", name=f"at {where} degrees"
        ) from None


def _first_twice(set_: ReadingSet, readings: Sequence[ReadingIn]) -> Decimal:
    seen = {(one.plane, one.position_deg, one.piece, one.crush) for one in standing_readings(set_)}
    for one in readings:
        spot = (one.plane, one.position_deg % 360, one.piece, one.crush)
        if spot in seen:
            return one.position_deg
        seen.add(spot)
    return readings[0].position_deg


def facts_of(set_: ReadingSet, readings: Sequence[ReadingIn]) -> dict[str, object]:
    return {
        "gauge": None if set_.gauge is None else set_.gauge.name,
        "base_gasket_mm": set_.base_gasket_mm,
        "solder_mm": set_.solder_mm,
        "measured_by": set_.by.username,
        "readings": [
            {
                "position_deg": one.position_deg,
                "plane": one.plane,
                "piece": one.piece,
                "crush": one.crush,
                "value": f"{one.length.value:f}",
                "unit": one.length.unit.value,
            }
            for one in readings
        ],
    }
