"""Studies of gauges and hands: who reads which piece when, what was read, and which one counts."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from qc.models.columns import entered_value_column, mm_column, one_of, unit_column
from qc.models.entered import EnteredLength, void_has_who_and_why
from qc.models.people import Person
from qc.models.resources import Gauge


class Repeats(models.TextChoices):
    """What a repeated trial repeats, and with it what the study's repeatability holds."""

    SAME = "same_piece", "the same piece, read again"
    FRESH = "fresh_piece", "a fresh piece, crushed at the same place"


class GaugeStudy(models.Model):
    """Pieces read by several hands several times, in an order drawn from `seed`.

    A hand is a person with a gauge. While the study is open nobody sees what was read. `result` is
    what was answered when it was closed, with the formula's version; None while it is open.
    """

    name = models.CharField(max_length=60, unique=True)
    note = models.TextField(blank=True)
    pieces_are = models.CharField(max_length=80)
    repeats = models.CharField(max_length=12, choices=Repeats.choices)
    parts = models.PositiveSmallIntegerField()
    trials = models.PositiveSmallIntegerField()
    nominal_mm = mm_column()
    tolerance_mm = mm_column()
    tolerance_value = entered_value_column()
    tolerance_unit = unit_column()
    seed = models.BigIntegerField()
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    closed_why = models.TextField(blank=True)
    result: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-opened_at", "-pk"]
        verbose_name_plural = "gauge studies"
        constraints = [
            one_of("repeats", Repeats, "study_repeats_known"),
            models.CheckConstraint(
                condition=Q(tolerance_mm__gt=0, nominal_mm__gt=0, parts__gte=2, trials__gte=1),
                name="study_has_parts_and_tolerance",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None, result=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False, result__isnull=False),
                name="study_closed_has_who_and_result",
            ),
        ]

    def __str__(self) -> str:
        return str(self.name)

    @property
    def is_open(self) -> bool:
        return self.closed_at is None


class StudyTurn(models.Model):
    """One reading to be taken: by whom, with which gauge, of which piece. `order` counts from 1."""

    study = models.ForeignKey(GaugeStudy, on_delete=models.PROTECT, related_name="turns")
    order = models.PositiveSmallIntegerField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="study_turns")
    part = models.PositiveSmallIntegerField()
    trial = models.PositiveSmallIntegerField()
    left_out_at = models.DateTimeField(null=True, blank=True)
    left_out_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    left_out_why = models.TextField(blank=True)

    class Meta:
        ordering = ["study", "order"]
        constraints = [
            models.UniqueConstraint(fields=["study", "order"], name="study_order_once"),
            models.UniqueConstraint(
                fields=["study", "person", "gauge", "part", "trial"], name="study_turn_once"
            ),
            models.CheckConstraint(
                condition=Q(left_out_at=None, left_out_by=None, left_out_why="")
                | (Q(left_out_at__isnull=False, left_out_by__isnull=False) & ~Q(left_out_why="")),
                name="study_left_out_has_who_and_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.study}, turn {self.order}"


class StudyReading(EnteredLength):
    """What was read at one turn. A void one stays; its turn comes up again."""

    turn = models.ForeignKey(StudyTurn, on_delete=models.PROTECT, related_name="readings")
    gauge_step_mm = mm_column()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(value_mm__gt=0), name="study_reading_positive"),
            models.UniqueConstraint(
                fields=["turn"],
                condition=Q(voided_at__isnull=True),
                name="study_reading_once_a_turn",
            ),
            void_has_who_and_why("study_void_has_who_and_why"),
        ]

    def __str__(self) -> str:
        return f"{self.turn}: {self.entered_value} {self.entered_unit}"


class StudyUse(models.Model):
    """A lead took a study as the shop's, or set it aside; the newest row of a gauge is in force.

    The figures are the study's when it was taken, in mm. Jobs measured before `at` keep theirs.
    """

    study = models.ForeignKey(GaugeStudy, on_delete=models.PROTECT, related_name="uses")
    is_taken = models.BooleanField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    why = models.TextField()
    says = models.CharField(max_length=120)
    repeat_sd_mm = models.FloatField()
    repeat_df = models.FloatField()
    hands_sd_mm = models.FloatField()
    hands_df = models.FloatField(null=True, blank=True)
    by_piece_sd_mm = models.FloatField()
    by_piece_df = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(repeat_sd_mm__gt=0, hands_sd_mm__gte=0, by_piece_sd_mm__gte=0)
                & ~Q(why=""),
                name="study_use_has_figures_and_why",
            )
        ]

    def __str__(self) -> str:
        return f"{self.study} {'taken' if self.is_taken else 'set aside'}"
