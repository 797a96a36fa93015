"""One drawn job of the demo season, walked through the bench's steps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np

from deploy.demo.furnishing import Bench
from deploy.demo.season import DemoJob, FloatArray
from deploy.demo.typed import dial_entries, gap_entries, mistyped
from qc.lookups.record.depth import touch_off_mm
from qc.models import Job, Kind, Reading, ReadingSet, Round, State, Step, VerdictKind
from qc.numerics.cutting import dial_targets
from qc.operations import (
    closing,
    engines,
    lathe_passes,
    lathe_work,
    opening,
    planning,
    readings,
    setting_up,
    steps,
)
from qc.operations.reading_rows import ReadingIn
from qc.units import Length, Unit, mm

CONCESSIONS = (
    "Customer told of the reading; fit for a trail saw.",
    "Repeat readings agree with each other; owner accepts.",
    "Within the shop's habit for this family; noted for next time.",
)
WALK = (State.OPEN, State.FOUND, State.PLANNED, State.SET_UP, State.CUT, State.MEASURED)


class Recorder:
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
            typed[mistyped_at] = mistyped(right, gauge=self.gauge)
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
        return gap_entries(gaps, positions_deg=self.drawn.positions_deg, gauge=self.gauge)

    def _plan(self, job: Job) -> None:
        planning.plan_round(
            job=job,
            gasket_next=Length(self.family.gasket_mm, Unit.MM),
            by=self.by,
            at=self.tick(5),
        )

    def _cut_and_measure(self, job: Job, *, fixture: int, gaps: FloatArray) -> None:
        clocking = self.drawn.clocking_deg
        round_ = setting_up.record_set_up(
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
            dial = dial_entries(off, toward_deg=toward)
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
            lathe_passes.record_pass(job=job, dial=mm(last), by=self.by, at=self.tick(4))
        lathe_passes.record_pass(
            job=job, dial=mm(last), is_spring=True, by=self.by, at=self.tick(3)
        )
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
