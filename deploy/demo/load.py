"""Post the demo season through the same operations a bench uses, never into the tables."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np

from deploy.demo import season as demo_season
from deploy.demo.gauges import checking, register_block, study_hands
from deploy.demo.season import DemoJob, FloatArray
from deploy.demo.shop import FAMILIES, FIXTURES, GAUGES, LATHES, OPERATORS, PEOPLE
from qc import outbox
from qc.actor import Actor
from qc.lookups.depth import touch_off_mm
from qc.models import (
    EngineFamily,
    Fixture,
    Gauge,
    Job,
    Kind,
    Lathe,
    Reading,
    ReadingSet,
    Role,
    Round,
    ServiceKind,
    State,
    Step,
    ToolEdge,
    VerdictKind,
)
from qc.numerics.cutting import dial_targets
from qc.operations import (
    closing,
    engines,
    lathe_work,
    opening,
    people,
    planning,
    policy,
    readings,
    resources,
    steps,
)
from qc.operations.reading_rows import ReadingIn
from qc.units import Length, Unit, mm

SEED = 20
CHECKS, STUDIED_AT = 14, 0.85
WORDS = ("brass", "shim", "collet", "spindle", "scriber", "parallel", "mandrel", "quill", "gib")
CONCESSIONS = (
    "Customer told of the reading; fit for a trail saw.",
    "Repeat readings agree with each other; owner accepts.",
    "Within the shop's habit for this family; noted for next time.",
)
# The newest jobs are left part of the way, so that the shop has work on the bench.
LEFT_AT = {
    -1: State.OPEN,
    -2: State.FOUND,
    -3: State.PLANNED,
    -5: State.SET_UP,
    -6: State.CUT,
    -8: State.MEASURED,
    -9: State.MEASURED,
}
WALK = (State.OPEN, State.FOUND, State.PLANNED, State.SET_UP, State.CUT, State.MEASURED)


@dataclass
class Bench:
    """The demo shop's rows, by the numbers the season speaks of."""

    people: dict[str, Actor]
    families: list[EngineFamily]
    fixtures: list[Fixture]
    lathes: list[Lathe]
    gauges: list[Gauge]
    edges: dict[int, ToolEdge] = field(default_factory=dict)

    @property
    def lead(self) -> Actor:
        return self.people["ines"]


@dataclass(frozen=True)
class SignIn:
    """What the demo's owner is shown: one password for all four people, and a bench token."""

    usernames: tuple[str, ...]
    password: str
    token: str


def untold(done: int, of: int) -> None:
    """Progress that nobody watches."""


def load(
    *,
    at: datetime,
    seed: int = SEED,
    jobs: int = demo_season.JOBS,
    told: Callable[[int, int], None] = untold,
) -> SignIn:
    """Make the shop and record its season up to `at`, charts and flags as they came.

    `told` hears after each job how many of how many are recorded.
    """
    rng = np.random.default_rng(seed)
    password = (
        "-".join(secrets.choice(WORDS) for _ in range(3)) + f"-{secrets.randbelow(900) + 100}"
    )
    opened = at - demo_season.SEASON - timedelta(days=3)
    bench = _furnish(at=opened, until=at, password=password)
    drawn = demo_season.season(seed, until=at, jobs=jobs)
    services = _services(bench, at=at, jobs=jobs)
    for number, look in _gauges_looked_at(bench, seed=seed, opened=opened, jobs=jobs):
        services.setdefault(number, []).append(look)
    for done, job in enumerate(drawn, start=1):
        for serve in services.get(job.number, ()):
            serve(job.at - timedelta(minutes=10))
        _Recorder(bench, job, rng, leave_at=LEFT_AT.get(job.number - jobs)).record()
        outbox.drain()
        told(done, jobs)
    _, key = people.make_token(
        person=bench.people["tomo"].person,
        name="Bench station",
        role=Role.OPERATOR,
        by=bench.lead,
        at=at,
    )
    return SignIn(tuple(one.username for one in PEOPLE), password, key)


def _furnish(*, at: datetime, until: datetime, password: str) -> Bench:
    policy.ensure_policy(at=at)
    crew: dict[str, Actor] = {}
    for one in PEOPLE:
        crew[one.username] = Actor(
            people.add_person(
                username=one.username,
                name=one.name,
                password=password,
                role=Role(one.role),
                by=crew.get("ines"),
                at=at,
                unit=Unit(one.unit),
            )
        )
    lead = crew["ines"]
    policy.change_policy(
        by=lead,
        at=at,
        why="First settings of the shop.",
        shop_name="Hollow Lane Two-Strokes",
        velocity_limit_m_s=Decimal(25),
        velocity_limit_says="our own; published limits disagree (15 to 30 m/s)",
        running_gap_limit_mm=Decimal("0.20"),
        running_gap_limit_says="our own, at free running speed",
    )
    bench = Bench(
        people=crew,
        families=[engines.add_family(by=lead, at=at, **columns) for columns in FAMILIES],
        fixtures=[resources.register_fixture(name=one, by=lead, at=at) for one in FIXTURES],
        lathes=[resources.register_lathe(name=one, by=lead, at=at) for one in LATHES],
        gauges=[
            resources.register_gauge(
                name=name,
                step=Length(Decimal(step), Unit(unit)),
                calibration_due=(until + timedelta(days=12 + 90 * order)).date(),
                calibration_u_mm=u_mm,
                by=lead,
                at=at,
            )
            for order, (name, step, unit, u_mm) in enumerate(GAUGES)
        ],
    )
    for number in range(len(LATHES)):
        _fit_edge(bench, number, at=at)
    return bench


def _fit_edge(bench: Bench, lathe: int, *, at: datetime) -> None:
    count = ToolEdge.objects.filter(lathe=bench.lathes[lathe]).count() + 1
    bench.edges[lathe] = resources.fit_edge(
        lathe=bench.lathes[lathe],
        slot="1",
        name=f"{bench.lathes[lathe].name.split()[0]} insert {count}",
        edge_radius_um=Decimal(20),
        by=bench.lead,
        at=at,
    )


def _services(
    bench: Bench, *, at: datetime, jobs: int
) -> dict[int, list[Callable[[datetime], object]]]:
    """What was serviced before which job."""

    def indicate(fixture: int) -> Callable[[datetime], object]:
        return lambda when: resources.record_service(
            subject=bench.fixtures[fixture],
            kind=ServiceKind.REINDICATED,
            as_found_mm=Decimal("0.006"),
            as_left_mm=Decimal("0.002"),
            by=bench.lead,
            at=when,
            note="Routine",
        )

    def calibrate(gauge: int) -> Callable[[datetime], object]:
        return lambda when: resources.record_service(
            subject=bench.gauges[gauge],
            kind=ServiceKind.CALIBRATED,
            as_found_mm=Decimal("0.001"),
            as_left_mm=Decimal("0.000"),
            calibration_due=(at + timedelta(days=200)).date(),
            by=bench.lead,
            at=when,
            note="Gauge blocks, 5 points",
        )

    def fit(lathe: int) -> Callable[[datetime], object]:
        return lambda when: _fit_edge(bench, lathe, at=when)

    return {
        round(jobs * 0.20): [fit(0)],
        round(jobs * 0.30): [indicate(0)],
        round(jobs * 0.42): [fit(0), fit(1)],
        round(jobs * 0.45): [indicate(6)],
        round(jobs * 0.55): [calibrate(2)],
        round(jobs * 0.75): [fit(0)],
    }


def _gauges_looked_at(
    bench: Bench, *, seed: int, opened: datetime, jobs: int
) -> Iterator[tuple[int, Callable[[datetime], object]]]:
    """Before which job a micrometer is checked, and when its study of hands is made.

    Drawn apart from the season, which stays as it was.
    """
    rng = np.random.default_rng(seed + 1)
    gauge, crew = bench.gauges[1], [bench.people[one] for one in OPERATORS]
    block = register_block(lead=bench.lead, at=opened)
    check = checking(gauge, block, by=bench.people["tomo"], rng=rng, since=opened)
    for part in range(1, CHECKS + 1):
        yield round(jobs * part / CHECKS), check
    yield (
        round(jobs * STUDIED_AT),
        lambda when: study_hands(
            gauge, crew, lead=bench.lead, rng=rng, at=when - timedelta(hours=4)
        ),
    )


class _Recorder:
    """Walks one drawn job through the bench's steps, as far as it went."""

    def __init__(
        self, bench: Bench, drawn: DemoJob, rng: np.random.Generator, *, leave_at: State | None
    ) -> None:
        self.bench, self.drawn, self.rng = bench, drawn, rng
        self.by = bench.people[drawn.operator]
        self.gauge = bench.gauges[drawn.gauge]
        self.family = bench.families[drawn.family]
        self.goal = State.RELEASED if leave_at is None else leave_at
        self.now = drawn.at - timedelta(hours=3)
        self.cut_mm = 0.0

    def tick(self, minutes: float) -> datetime:
        self.now += timedelta(minutes=minutes)
        return self.now

    def record(self) -> None:
        cylinder = engines.register_cylinder(
            family=self.family,
            serial=f"{self.family.name[0]}{1000 + self.drawn.number}",
            customer_reference=f"Ticket {4100 + self.drawn.number}",
            by=self.by,
            at=self.now,
        )
        job = opening.open_job(cylinder=cylinder, by=self.by, at=self.tick(2))
        if self._stops(State.OPEN):
            return
        self._find(job)
        if self._stops(State.FOUND):
            return
        self._plan(job)
        if self._stops(State.PLANNED):
            return
        self._cut_and_measure(job, fixture=self.drawn.fixture, gaps=self.drawn.achieved_mm)
        if self.goal == State.RELEASED:
            self._close(job)

    def _stops(self, state: State) -> bool:
        return self.goal in WALK and WALK.index(self.goal) <= WALK.index(state)

    def _find(self, job: Job) -> None:
        typed = self._readings(self.drawn.found_mm)
        mistyped_at = 1
        if self.drawn.mistyped:
            right = typed[mistyped_at]
            wrong = Length(right.length.value * Decimal("1.1"), right.length.unit)
            typed[mistyped_at] = _reading(right, _in_steps(wrong, self.gauge))
        taken = self._gap_set(job, Kind.AS_FOUND, typed, solder="1.6")
        if self.drawn.mistyped:
            readings.void_reading(
                reading=Reading.objects.filter(set=taken).order_by("pk")[mistyped_at],
                why="Read the thimble a turn out; crush measured again.",
                replacement=right.length,
                by=self.by,
                at=self.tick(3),
            )

    def _gap_set(
        self, job: Job, kind: Kind, typed: Sequence[ReadingIn], *, solder: str
    ) -> ReadingSet:
        fewer = "" if len(self.drawn.positions_deg) > 2 else "No room for solder across the pin."
        return readings.record_gap_readings(
            job=job,
            kind=kind,
            readings=typed,
            gauge=self.gauge,
            base_gasket=Length(self.family.gasket_mm, Unit.MM),
            solder=mm(solder),
            bolts_torqued=True,
            why_fewer=fewer,
            by=self.by,
            at=self.tick(25),
        )

    def _readings(self, gaps: FloatArray) -> list[ReadingIn]:
        unit = Unit(self.gauge.step_unit)
        per_mm = Decimal(1) if unit == Unit.MM else Decimal("25.4") / 1000
        return [
            ReadingIn(
                length=_in_steps(Length(Decimal(float(gap)) / per_mm, unit), self.gauge),
                position_deg=Decimal(position),
                piece=piece,
            )
            for position, row in zip(self.drawn.positions_deg, gaps, strict=True)
            for piece, gap in enumerate(row, start=1)
        ]

    def _plan(self, job: Job) -> None:
        planning.plan_round(
            job=job,
            gasket_next=Length(self.family.gasket_mm, Unit.MM),
            by=self.by,
            at=self.tick(5),
        )

    def _cut_and_measure(self, job: Job, *, fixture: int, gaps: FloatArray) -> None:
        clocking = self.drawn.clocking_deg
        round_ = lathe_work.record_set_up(
            job=job,
            fixture=self.bench.fixtures[fixture],
            lathe=self.bench.lathes[self.drawn.lathe],
            edge=self.bench.edges[self.drawn.lathe],
            clocking_deg=None if clocking is None else Decimal(clocking),
            by=self.by,
            at=self.tick(10),
        )
        self._indicate(job)
        lathe_work.record_touch_off(
            job=job,
            dial=mm(Decimal(f"{self.rng.uniform(1, 4):.2f}")),
            paper=mm("0.05") if self.rng.uniform() < 0.3 else None,
            by=self.by,
            at=self.tick(6),
        )
        if self._stops(State.SET_UP):
            return
        self._take_passes(job, round_)
        if self._stops(State.CUT):
            return
        typed = self._readings(gaps - self.cut_mm)
        self._gap_set(job, Kind.ACHIEVED, typed, solder="1.0")

    def _indicate(self, job: Job) -> None:
        if self.rng.uniform() < 0.25:
            steps.skip_step(
                job=job,
                step=Step.INDICATING,
                why="Same fixture as the job before, not disturbed.",
                by=self.by,
                at=self.tick(1),
            )
            return
        for kind in (Kind.INDICATED_SNUG, Kind.INDICATED_TIGHT):
            off, toward = self.rng.uniform(0.0, 0.008), self.rng.uniform(0, 360)
            dial = [
                ReadingIn(
                    length=mm(
                        Decimal(
                            f"{round(off * np.cos(np.radians(at - toward)) / 0.002) * 0.002:.3f}"
                        )
                    ),
                    position_deg=Decimal(at),
                )
                for at in demo_season.POSITIONS
            ]
            lathe_work.record_indicating(
                job=job, kind=kind, readings=dial, by=self.by, at=self.tick(5)
            )

    def _take_passes(self, job: Job, round_: Round) -> None:
        round_.refresh_from_db()
        touched = touch_off_mm(round_)
        assert touched is not None
        assert round_.plan is not None
        targets = dial_targets(
            round_.plan["passes_mm"],
            touch_off_mm=touched,
            angle_factor=float(round_.dial_factor or 1),
            paper_mm=float(round_.paper_mm),
        )
        last = Decimal(0)
        for target in targets:
            last = Decimal(f"{float(target):.2f}")
            lathe_work.record_pass(job=job, dial=mm(last), by=self.by, at=self.tick(4))
        lathe_work.record_pass(job=job, dial=mm(last), is_spring=True, by=self.by, at=self.tick(3))
        dialled = float(last) - touched - float(round_.paper_mm)
        self.cut_mm += dialled - self.drawn.depth_error_mm

    def _close(self, job: Job) -> None:
        lead = self.bench.lead
        verdict = self._verdict(job)
        if verdict == VerdictKind.CUT_AGAIN and self._another_cut_would_form(job):
            closing.cut_again(job=job, by=self.by, at=self.tick(10))
            self._plan(job)
            self._cut_and_measure(job, fixture=self.drawn.again_fixture, gaps=self.drawn.again_mm)
            verdict = self._verdict(job)
        if verdict == VerdictKind.ACCEPT:
            closing.release(job=job, by=lead, at=self.tick(20))
        else:
            why = CONCESSIONS[self.drawn.number % len(CONCESSIONS)]
            closing.concede(job=job, why=why, by=lead, at=self.tick(30))

    def _verdict(self, job: Job) -> str:
        job.refresh_from_db()
        return closing.current_result(steps.newest_round(job)).verdict

    def _another_cut_would_form(self, job: Job) -> bool:
        """Whether the next depth is one the dial and the edge can make."""
        detail = closing.current_result(steps.newest_round(job)).detail
        return float(detail["next_cut"]["depth_mm"]) >= 0.02


def _dial(off_centre_mm: float, from_high_deg: float) -> Length:
    """A 0.002 mm dial's reading on a fixture that stands off centre."""
    steps_ = round(off_centre_mm * np.cos(np.radians(from_high_deg)) / 0.002)
    return mm(Decimal(steps_) * Decimal("0.002"))


def _in_steps(length: Length, gauge: Gauge) -> Length:
    """What the gauge would show: the nearest of its steps, in its own unit."""
    step = Decimal(gauge.step_value)
    return Length((length.value / step).quantize(Decimal(1)) * step, length.unit)


def _reading(like: ReadingIn, length: Length) -> ReadingIn:
    return ReadingIn(length=length, position_deg=like.position_deg, piece=like.piece)
