"""A cylinder cut twice at two clockings, on a fixture whose lean was indicated on two planes."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from qc.models import Job, Kind, State
from qc.operations import (
    closing,
    lathe_passes,
    lathe_work,
    planning,
    readings,
    resources,
    setting_up,
)
from qc.operations.reading_rows import ReadingIn
from qc.units import mm
from tests.make import NOON, Shop, gaps, make_job

LEVEL = dict.fromkeys((0, 90, 180, 270), "0")
# With a lean of 0.200: a tilt of +0.04, then -0.02, of at most 0.0776: 0.387 reached it.
FAR_LEAN: dict[str, Any] = {
    "first": {0: "0.64", 90: "0.60", 180: "0.56", 270: "0.60"},
    "second": {0: "0.48", 90: "0.50", 180: "0.52", 270: "0.50"},
    "lean": "0.200",
}
FIRST = {0: "0.62", 90: "0.60", 180: "0.58", 270: "0.60"}
SECOND = {0: "0.49", 90: "0.50", 180: "0.51", 270: "0.50"}


def dial(values: dict[int, str], *, plane: int = 1) -> list[ReadingIn]:
    return [
        ReadingIn(length=mm(value), position_deg=Decimal(at), plane=plane)
        for at, value in values.items()
    ]


def two_planes(shop: Shop) -> None:
    """The shop's fixture is indicated on two planes 50 mm apart."""
    resources.change_resource(
        resource=shop.fixture,
        by=shop.lead,
        at=NOON,
        expected_version=shop.fixture.version,
        planes_apart_mm=Decimal(50),
    )


def indicate(shop: Shop, job: Job, kind: Kind, *, lean: str = "0.010", at: datetime = NOON) -> None:
    """The axis leans by `lean`, in mm toward 0, from one plane to the other."""
    far = {**LEVEL, 0: lean, 180: f"-{lean}"}
    lathe_work.record_indicating(
        job=job, kind=kind, readings=[*dial(LEVEL), *dial(far, plane=2)], by=shop.operator, at=at
    )


def clocked_job(
    shop: Shop,
    *,
    serial: str = "C-1",
    first: dict[int, str] = FIRST,
    second: dict[int, str] = SECOND,
    lean: str = "0.010",
) -> Job:
    """Measured at clocking 0, cut again half a turn round on the fixture, measured again."""
    job = make_job(shop, state=State.MEASURED, serial=serial, achieved=first)
    by, at = shop.operator, NOON
    closing.cut_again(job=job, by=by, at=at)
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=by, at=at)
    setting_up.record_set_up(
        job=job,
        fixture=shop.fixture,
        lathe=shop.lathe,
        edge=shop.edge,
        clocking_deg=Decimal(180),
        by=by,
        at=at,
    )
    indicate(shop, job, Kind.INDICATED_TIGHT, lean=lean)
    lathe_work.record_touch_off(job=job, dial=mm("2"), by=by, at=at)
    lathe_passes.record_pass(job=job, dial=mm("2.1"), by=by, at=at)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(second),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        by=by,
        at=at + timedelta(hours=5),
    )
    return job
