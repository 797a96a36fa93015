"""Charts kept up job by job: what the next job needs to know, and the limits people froze."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F, Q

from qc.models.columns import one_of
from qc.models.jobs import Round
from qc.models.people import Person


class ChartKind(models.TextChoices):
    ERRORS = "errors", "errors of jobs"
    TILT = "tilt", "tilt of a fixture"
    TILT_NOISE = "tilt_noise", "noise of one job's tilt"
    DRIFT = "drift", "drift of the shop's resources"


class StoredChart(models.Model):
    """One chart's running state after its newest job.

    kind and key say which chart; `state` is what that kind keeps. at, result: the newest job's
    place in the order of jobs (measured_at, JobResult's key); none before the first job.
    """

    kind = models.CharField(max_length=12, choices=ChartKind.choices)
    key = models.CharField(max_length=60)
    jobs = models.PositiveIntegerField(default=0)
    at = models.DateTimeField(null=True, blank=True)
    result = models.BigIntegerField(null=True, blank=True)
    state: models.JSONField[Any, Any] = models.JSONField(default=dict)

    class Meta:
        ordering = ["kind", "key"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "key"], name="chart_stored_once"),
            one_of("kind", ChartKind, "chart_kind_known"),
            models.CheckConstraint(
                condition=Q(jobs=0, at=None, result=None)
                | Q(jobs__gt=0, at__isnull=False, result__isnull=False),
                name="chart_place_with_jobs",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"


class ChartMark(models.Model):
    """The state as it was after so many jobs: a correction of the past goes back to the nearest."""

    chart = models.ForeignKey(StoredChart, on_delete=models.CASCADE, related_name="marks")
    jobs = models.PositiveIntegerField()
    at = models.DateTimeField()
    result = models.BigIntegerField()
    state: models.JSONField[Any, Any] = models.JSONField()

    class Meta:
        ordering = ["chart", "jobs"]
        constraints = [models.UniqueConstraint(fields=["chart", "jobs"], name="chart_mark_once")]

    def __str__(self) -> str:
        return f"{self.chart} after {self.jobs}"


class Baseline(models.Model):
    """Limits a person froze, and which jobs made them.

    They hold for the chart's jobs measured from `holds_from` on and before `holds_until`; where two
    hold at once, the newer row does.
    """

    chart = models.ForeignKey(StoredChart, on_delete=models.PROTECT, related_name="baselines")
    centre_mm = models.FloatField()
    sigma_mm = models.FloatField()
    rounds = models.ManyToManyField(Round, related_name="baselines")
    # What the limits rest on: jobs, and neighbours among them whose distances gave sigma.
    job_count = models.PositiveIntegerField()
    pair_count = models.PositiveIntegerField()
    holds_from = models.DateTimeField()
    holds_until = models.DateTimeField(null=True, blank=True)
    frozen_at = models.DateTimeField()
    frozen_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    why = models.TextField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    why_ended = models.TextField(blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(sigma_mm__gt=0), name="baseline_sigma_positive"),
            models.CheckConstraint(
                condition=Q(job_count__gt=1, pair_count__gt=0), name="baseline_rests_on_jobs"
            ),
            models.CheckConstraint(condition=~Q(why=""), name="baseline_has_reason"),
            models.CheckConstraint(
                condition=Q(holds_until=None, ended_at=None, ended_by=None, why_ended="")
                | (
                    Q(holds_until__gte=F("holds_from"), ended_at__isnull=False)
                    & Q(ended_by__isnull=False)
                    & ~Q(why_ended="")
                ),
                name="baseline_end_has_who_and_why",
            ),
            models.UniqueConstraint(
                fields=["chart"],
                condition=Q(holds_until__isnull=True),
                name="one_standing_baseline_a_chart",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.chart} frozen {self.frozen_at:%Y-%m-%d}"
