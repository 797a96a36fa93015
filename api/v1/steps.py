"""The steps of a job, each a POST on the job that answers the job as it then stands.

Every step needs If-Match with the job's ETag, so that of two benches saving the same step one is
told. The rules are the operations'; here is only which step takes what.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.bodies import Body, NoBody, Why
from api.retry import once
from api.v1 import step_bodies as bodies
from api.v1.jobs import job_answer
from api.v1.jobs_out import JobOut
from api.versions import on_version
from api.view import ShopView
from qc import access
from qc.models import Job, Kind
from qc.operations import (
    closing,
    correcting,
    lathe_passes,
    lathe_work,
    limits,
    planning,
    readings,
    setting_up,
    steps,
)


class Step(ShopView):
    """One step: `body` says what it takes, `do` carries it out on the job."""

    body: type[Body]
    answer = JobOut
    do: Callable[..., Any]

    @once
    @on_version
    def post(self, request: Request, number: int, **address: int) -> Response:
        job = access.job(number)
        self.do(
            **self.subject(job, **address),
            by=self.by,
            at=timezone.now(),
            expected_version=self.match.expected(job),
            **self.body.parse(request.data),
        )
        return job_answer(number)

    def subject(self, job: Job, **address: int) -> dict[str, Any]:
        """What the operation is told that it acts on."""
        return {"job": job}


class AsFound(Step):
    """Record the as-found readings."""

    body = bodies.AsFoundIn
    do = staticmethod(partial(readings.record_gap_readings, kind=Kind.AS_FOUND))


class Plan(Step):
    """Work out how deep to cut, and keep it with what it was worked out from."""

    body = bodies.PlanIn
    do = staticmethod(planning.plan_round)


class SetUp(Step):
    """Say which fixture, lathe and edge, and how the cylinder is clocked."""

    body = bodies.SetUpIn
    do = staticmethod(setting_up.record_set_up)


class Indicating(Step):
    """Record dial readings round the fixture, snug or tightened. They are signed."""

    body = bodies.IndicatingIn
    do = staticmethod(lathe_work.record_indicating)


class Correction(Step):
    """Take the dial correction that the shop's history suggests for this edge, or leave it."""

    body = bodies.CorrectionIn
    do = staticmethod(correcting.choose_correction)


class TouchOff(Step):
    """Record where the dial stood when the edge touched."""

    body = bodies.TouchOffIn
    do = staticmethod(lathe_work.record_touch_off)


class TakePass(Step):
    """Record one pass by the dial reading it was taken to."""

    body = bodies.PassIn
    do = staticmethod(lathe_passes.record_pass)


class Achieved(Step):
    """Record the achieved readings; the answer has the verdict."""

    body = bodies.AchievedIn
    do = staticmethod(partial(readings.record_gap_readings, kind=Kind.ACHIEVED))


class Skip(Step):
    """Leave a step out, with the reason on the record."""

    body = bodies.SkipIn
    do = staticmethod(steps.skip_step)


class PartsChanged(Step):
    """Say that piston, rod, head, head gasket or crankcase changed: as-found is needed again."""

    body = Why
    do = staticmethod(planning.note_parts_changed)


class CutAgain(Step):
    """Open the next round; what was achieved is its as-found."""

    body = bodies.CutAgainIn
    do = staticmethod(closing.cut_again)


class Release(Step):
    """Release an accepted job."""

    body = NoBody
    do = staticmethod(closing.release)


class Concede(Step):
    """Let a job go as it is, whatever the verdict."""

    body = Why
    do = staticmethod(closing.concede)


class Scrap(Step):
    """Give the cylinder up."""

    body = Why
    do = staticmethod(closing.scrap)


class Drop(Step):
    """Drop a job opened by mistake, before its first cut."""

    body = Why
    do = staticmethod(closing.drop)


class Limits(Step):
    """Put target or tolerance right before the first cut."""

    body = bodies.LimitsIn
    do = staticmethod(limits.correct_limits)


class AddReadings(Step):
    """Add a crush, a piece or a position to a set, read with the gauge of that set."""

    body = bodies.AddedReadingsIn
    do = staticmethod(readings.add_readings)

    def subject(self, job: Job, **address: int) -> dict[str, Any]:
        return {"reading_set": access.reading_set(address["set_id"], of=job)}


class VoidReading(Step):
    """Void a reading, keeping it, and put the right value in its place where one is given."""

    body = bodies.VoidReadingIn
    do = staticmethod(readings.void_reading)

    def subject(self, job: Job, **address: int) -> dict[str, Any]:
        return {"reading": access.reading(address["reading_id"], of=job)}


class VoidPass(Step):
    """Void a pass that was written down wrong, and put the right dial in its place."""

    body = bodies.VoidPassIn
    do = staticmethod(lathe_passes.void_pass)

    def subject(self, job: Job, **address: int) -> dict[str, Any]:
        return {"taken": access.taken_pass(address["pass_id"], of=job)}
