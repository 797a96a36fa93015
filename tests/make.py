"""A small invented shop, made through the operations, so that no test starts from a state the
shop cannot reach."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from qc.actor import Actor
from qc.models import (
    Cylinder,
    EngineFamily,
    Fixture,
    Gauge,
    Job,
    Kind,
    Lathe,
    Person,
    Role,
    State,
    Step,
    ToolEdge,
)
from qc.operations import (
    closing,
    engines,
    lathe_passes,
    lathe_work,
    opening,
    people,
    planning,
    readings,
    resources,
    setting_up,
    steps,
)
from qc.operations.policy import ensure_policy
from qc.operations.reading_rows import ReadingIn
from qc.units import Length, Unit, mm

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
PASSWORD = "brass-shim-042"
ALDER: dict[str, object] = {
    "name": "Alder 46",
    "bore_mm": Decimal("43.2"),
    "stroke_mm": Decimal("31.6"),
    "rod_mm": Decimal("55.4"),
    "exhaust_mm": Decimal("21.5"),
    "transfer_mm": Decimal("25.7"),
    "intake_mm": Decimal("13.3"),
    "clearance_cc": Decimal("6.09"),
    "band_width_mm": Decimal("4.4"),
    "expected_gap_mm": Decimal("1.02"),
    "gasket_mm": Decimal("0.50"),
    "target_mm": Decimal("0.50"),
    "tol_minus_mm": Decimal("0.05"),
    "tol_plus_mm": Decimal("0.05"),
    "floor_mm": Decimal("0.42"),
    "measuring_radius_mm": Decimal("19.4"),
    "flange_mm": Decimal("7.0"),
    "flange_min_mm": Decimal("5.5"),
    "flange_diameter_mm": Decimal("64"),
    "rpm_loaded": 9600,
    "rpm_free": 13200,
    "reciprocating_kg": Decimal("0.105"),
    "rod_shank_mm2": Decimal("38"),
    "bearing_radial_mm": Decimal("0.025"),
    "skirt_clearance_mm": Decimal("0.045"),
    "skirt_length_mm": Decimal("30"),
    "spark_btdc_deg": Decimal("27"),
}
FOUND = {0: "1.02", 90: "1.03", 180: "1.02", 270: "1.01"}
EVEN = {0: "0.50", 90: "0.51", 180: "0.50", 270: "0.49"}


@dataclass(frozen=True)
class Shop:
    lead: Actor
    operator: Actor
    viewer: Actor
    family: EngineFamily
    fixture: Fixture
    lathe: Lathe
    edge: ToolEdge
    gauge: Gauge


def make_person(username: str, role: Role, *, by: Actor | None = None) -> Person:
    return people.add_person(
        username=username,
        name=username.title(),
        password=PASSWORD,
        role=role,
        by=by,
        at=NOON - timedelta(days=30),
    )


def make_shop() -> Shop:
    """One lead, one operator, one viewer; one of everything a job needs."""
    before = NOON - timedelta(days=30)
    ensure_policy(at=before)
    lead = Actor(make_person("lena", Role.LEAD))
    lathe = resources.register_lathe(name="North lathe", by=lead, at=before)
    return Shop(
        lead=lead,
        operator=Actor(make_person("oskar", Role.OPERATOR, by=lead)),
        viewer=Actor(make_person("vera", Role.VIEWER, by=lead)),
        family=engines.add_family(by=lead, at=before, **ALDER),
        fixture=resources.register_fixture(name="Plug A", by=lead, at=before),
        lathe=lathe,
        edge=resources.fit_edge(
            lathe=lathe,
            slot="1",
            name="Insert 1",
            edge_radius_um=Decimal(20),
            by=lead,
            at=before,
        ),
        gauge=resources.register_gauge(
            name="Micrometer 1",
            step=mm("0.01"),
            calibration_due=date(2027, 1, 31),
            calibration_u_mm=Decimal("0.001"),
            by=lead,
            at=before,
        ),
    )


def gaps(values: Mapping[int, str], *, unit: Unit = Unit.MM, piece: int = 1) -> list[ReadingIn]:
    """Readings by clock position: {0: "1.02", 90: …}."""
    return [
        ReadingIn(
            length=Length(Decimal(value), unit),
            position_deg=Decimal(at),
            piece=piece,
            field=f"at_{at}",
        )
        for at, value in values.items()
    ]


def make_cylinder(shop: Shop, serial: str = "C-1") -> Cylinder:
    return engines.register_cylinder(family=shop.family, serial=serial, by=shop.operator, at=NOON)


def make_job(
    shop: Shop,
    *,
    state: State = State.OPEN,
    serial: str = "C-1",
    found: Mapping[int, str] = FOUND,
    achieved: Mapping[int, str] = EVEN,
    clocking: int | None = 0,
    at: datetime = NOON,
    fixture: Fixture | None = None,
    cylinder: Cylinder | None = None,
) -> Job:
    """A job walked to `state` the way a bench would: 0.52 mm off in two passes."""
    by = shop.operator
    job = opening.open_job(
        cylinder=cylinder or make_cylinder(shop, serial), by=by, at=at, beside_open=True
    )
    walk = [State.OPEN, State.FOUND, State.PLANNED, State.SET_UP, State.CUT, State.MEASURED]
    goal = walk.index(State.MEASURED if state == State.RELEASED else state)
    if goal >= 1:
        readings.record_gap_readings(
            job=job,
            kind=Kind.AS_FOUND,
            readings=gaps(found),
            gauge=shop.gauge,
            base_gasket=mm("0.50"),
            solder=mm("1.5"),
            bolts_torqued=True,
            by=by,
            at=at,
        )
    if goal >= 2:
        planning.plan_round(job=job, gasket_next=mm("0.50"), by=by, at=at)
    if goal >= 3:
        setting_up.record_set_up(
            job=job,
            fixture=fixture or shop.fixture,
            lathe=shop.lathe,
            edge=shop.edge,
            clocking_deg=None if clocking is None else Decimal(clocking),
            by=by,
            at=at,
        )
    if goal >= 4:
        steps.skip_step(job=job, step=Step.INDICATING, why="Indicated this morning", by=by, at=at)
        lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=by, at=at)
        lathe_passes.record_pass(job=job, dial=mm("2.25"), by=by, at=at)
        lathe_passes.record_pass(job=job, dial=mm("2.52"), by=by, at=at)
    if goal >= 5:
        readings.record_gap_readings(
            job=job,
            kind=Kind.ACHIEVED,
            readings=gaps(achieved),
            gauge=shop.gauge,
            base_gasket=mm("0.50"),
            solder=mm("1.0"),
            bolts_torqued=True,
            by=by,
            at=at + timedelta(hours=2),
        )
    if state == State.RELEASED:
        closing.release(job=job, by=shop.lead, at=at + timedelta(hours=3))
    job.refresh_from_db()
    return job
