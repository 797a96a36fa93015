"""A job, its rounds on the lathe, the passes of each round, and the steps somebody skipped."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F, Q

from qc.models.columns import (
    at_least_zero,
    degrees_column,
    entered_value_column,
    mm_column,
    on_the_clock,
    one_of,
    unit_column,
)
from qc.models.engines import Cylinder
from qc.models.entered import Voidable
from qc.models.people import Person
from qc.models.resources import Fixture, Lathe, ToolEdge


class State(models.TextChoices):
    OPEN = "open", "open"
    FOUND = "found", "as-found taken"
    PLANNED = "planned", "planned"
    SET_UP = "set_up", "set up"
    CUT = "cut", "cut"
    MEASURED = "measured", "measured"
    RELEASED = "released", "released"
    CONCEDED = "conceded", "released on concession"
    SCRAPPED = "scrapped", "scrapped"
    DROPPED = "dropped", "dropped"


BEFORE_CUT = (State.OPEN, State.FOUND, State.PLANNED, State.SET_UP)
CLOSED = (State.RELEASED, State.CONCEDED, State.SCRAPPED, State.DROPPED)
CLOSED_WITH_REASON = (State.CONCEDED, State.SCRAPPED, State.DROPPED)


class Step(models.TextChoices):
    AS_FOUND = "as_found", "as-found readings"
    PLAN = "plan", "the plan"
    SET_UP = "set_up", "the set-up"
    INDICATING = "indicating", "indicating"
    PASSES = "passes", "touch-off and passes"


class Job(models.Model):
    """One engine's visit. The limits are copied in when it opens and judged by to the end, but
    for target and tolerance that somebody puts right before the first cut.

    form_key: of the sent form that opened it, so that a form sent twice opens one job.
    """

    cylinder = models.ForeignKey(Cylinder, on_delete=models.PROTECT, related_name="jobs")
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    version = models.PositiveIntegerField(default=1)
    note = models.TextField(blank=True)
    form_key = models.CharField(max_length=64, null=True, blank=True, unique=True)

    target_mm = mm_column()
    tol_minus_mm = mm_column()
    tol_plus_mm = mm_column()
    floor_mm = mm_column()
    evenness_limit_mm = mm_column()

    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    closing_reason = models.TextField(blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [
            models.Index(fields=["state", "-opened_at"], name="job_by_state"),
            models.Index(fields=["-opened_at"], name="job_by_opening"),
        ]
        constraints = [
            one_of("state", State, "job_state_known"),
            models.CheckConstraint(
                condition=Q(target_mm__gte=F("floor_mm"), floor_mm__gt=0),
                name="job_target_not_under_floor",
            ),
            models.CheckConstraint(
                condition=Q(tol_minus_mm__gt=0, tol_plus_mm__gt=0, evenness_limit_mm__gt=0),
                name="job_limits_positive",
            ),
            models.CheckConstraint(
                condition=Q(state__in=CLOSED, closed_at__isnull=False, closed_by__isnull=False)
                | (~Q(state__in=CLOSED) & Q(closed_at=None, closed_by=None)),
                name="job_closed_has_who_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=CLOSED_WITH_REASON) | ~Q(closing_reason=""),
                name="job_closed_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"job {self.pk}"

    @property
    def is_closed(self) -> bool:
        return self.state in CLOSED


class Round(models.Model):
    """One trip to the lathe: as-found, plan, set-up, passes, achieved.

    From round 2 the as-found set is the achieved set of the round before, the same rows.
    `plan` keeps what the sums answered, `plan_basis` the fingerprint of what they were told.
    `indicated` and `clocking_test` (of which this is the second run) are what was answered too,
    each with its formula and revision.
    `correction_mm` is added to the dial beyond the planned depth, where a person took the shop's
    suggestion; the plan keeps both numbers. `tells_apart` is the flag whose suspects it was set up
    to tell apart, `asked` what that asked of it.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="rounds")
    number = models.PositiveSmallIntegerField()
    opened_at = models.DateTimeField()
    as_found_set = models.ForeignKey(
        "qc.ReadingSet", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    achieved_set = models.ForeignKey(
        "qc.ReadingSet", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    parts_changed = models.BooleanField(default=False)

    gasket_next_mm = mm_column(null=True, blank=True)
    flange_mm = mm_column(null=True, blank=True)
    planned_depth_mm = mm_column(null=True, blank=True)
    plan: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)
    correction_mm = mm_column(default=0)
    plan_basis = models.CharField(max_length=64, blank=True)
    plan_formula = models.CharField(max_length=20, blank=True)
    planned_at = models.DateTimeField(null=True, blank=True)

    fixture = models.ForeignKey(
        Fixture, null=True, blank=True, on_delete=models.PROTECT, related_name="rounds"
    )
    clocking_deg = degrees_column(null=True, blank=True)
    lathe = models.ForeignKey(
        Lathe, null=True, blank=True, on_delete=models.PROTECT, related_name="rounds"
    )
    edge = models.ForeignKey(
        ToolEdge, null=True, blank=True, on_delete=models.PROTECT, related_name="rounds"
    )
    operator = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="rounds"
    )
    dial_factor = models.DecimalField(max_digits=7, decimal_places=5, null=True, blank=True)
    paper_mm = mm_column(default=0)

    indicated: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)
    clocking_test: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)

    tells_apart = models.ForeignKey(
        "qc.Flag", null=True, blank=True, on_delete=models.PROTECT, related_name="trials"
    )
    asked = models.TextField(blank=True)

    class Meta:
        ordering = ["job", "number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="round_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="round_number_from_one"),
            on_the_clock("clocking_deg", "round_clocking_on_the_clock"),
            at_least_zero("planned_depth_mm", "round_planned_depth_not_negative"),
            at_least_zero("gasket_next_mm", "round_gasket_not_negative"),
            at_least_zero("paper_mm", "round_paper_not_negative"),
        ]

    def __str__(self) -> str:
        return f"job {self.job_id} round {self.number}"


class Pass(Voidable):
    """One pass over the base: the dial reading it was taken to. A spring pass adds no depth."""

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="passes")
    number = models.PositiveSmallIntegerField()
    dial_mm = mm_column()
    entered_value = entered_value_column()
    entered_unit = unit_column()
    is_spring = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["round", "number"]
        verbose_name_plural = "passes"
        constraints = [
            models.UniqueConstraint(
                fields=["round", "number"],
                condition=Q(voided_at__isnull=True),
                name="pass_number_once",
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, void_reason="")
                | (Q(voided_at__isnull=False) & ~Q(void_reason="")),
                name="pass_void_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.round} pass {self.number}"


class SkippedStep(models.Model):
    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="skipped")
    step = models.CharField(max_length=12, choices=Step.choices)
    why = models.TextField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["round", "at"]
        constraints = [
            models.UniqueConstraint(fields=["round", "step"], name="step_skipped_once"),
            one_of("step", Step, "skipped_step_known"),
            models.CheckConstraint(condition=~Q(why=""), name="skipped_step_has_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.round} skipped {self.step}"
