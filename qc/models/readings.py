"""Every measured value, as entered and in millimetres. A correction never overwrites."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from django.db import models
from django.db.models import Q

from qc.models.columns import (
    at_least_zero,
    degrees_column,
    mm_column,
    on_the_clock,
    one_of,
)
from qc.models.entered import EnteredLength
from qc.models.jobs import Job, Round
from qc.models.people import BenchToken, Person
from qc.models.resources import Gauge


class Kind(models.TextChoices):
    AS_FOUND = "as_found", "as-found"
    ACHIEVED = "achieved", "achieved"
    INDICATED_SNUG = "indicated_snug", "indicated, snug"
    INDICATED_TIGHT = "indicated_tight", "indicated, tightened"
    TOUCH_OFF = "touch_off", "touch-off"
    FLANGE = "flange", "flange height"


GAP_KINDS = (Kind.AS_FOUND, Kind.ACHIEVED)
INDICATED = (Kind.INDICATED_SNUG, Kind.INDICATED_TIGHT)
SIGNED_KINDS = (*INDICATED, Kind.TOUCH_OFF)


class ReadingSet(models.Model):
    """Readings taken together: one kind, one gauge, one gasket, one pair of hands."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="reading_sets")
    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="reading_sets")
    kind = models.CharField(max_length=16, choices=Kind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="reading_sets")
    token = models.ForeignKey(
        BenchToken, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    gauge = models.ForeignKey(
        Gauge, null=True, blank=True, on_delete=models.PROTECT, related_name="reading_sets"
    )
    gauge_overdue = models.BooleanField(default=False)
    solder_mm = mm_column(null=True, blank=True)
    base_gasket_mm = mm_column(null=True, blank=True)
    bolts_torqued = models.BooleanField(null=True)
    measuring_radius_mm = mm_column(null=True, blank=True)
    lever_angle_deg = degrees_column(null=True, blank=True)
    why_fewer = models.TextField(blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["gauge", "at"], name="readings_by_gauge")]
        constraints = [
            one_of("kind", Kind, "reading_set_kind_known"),
            at_least_zero("base_gasket_mm", "reading_set_gasket_not_negative"),
            models.CheckConstraint(
                condition=~Q(kind__in=GAP_KINDS)
                | Q(gauge__isnull=False, measuring_radius_mm__gt=0, base_gasket_mm__isnull=False),
                name="gap_set_has_gauge_radius_gasket",
            ),
        ]

    def __str__(self) -> str:
        return f"job {self.job_id} {self.get_kind_display()}"

    def fingerprint(self) -> str:
        """Changes when a reading is added or voided: what a plan rests on is known by this."""
        return self.fingerprint_with(self.readings.filter(voided_at=None).order_by("pk"))

    def fingerprint_with(self, rows: Iterable[Reading]) -> str:
        """The same, of the set's readings that are not void, in the order they were taken."""
        told = [f"{one.pk}:{one.position_deg}:{one.value_mm}" for one in rows]
        return hashlib.sha256("|".join([*told, str(self.base_gasket_mm)]).encode()).hexdigest()


class Reading(EnteredLength):
    """One crush, one dial reading or one height. Void keeps the row and points at what replaced it.

    `kind` repeats the set's, so that the database itself can refuse a negative gap.
    """

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="readings")
    kind = models.CharField(max_length=16, choices=Kind.choices)
    position_deg = degrees_column(default=0)
    plane = models.PositiveSmallIntegerField(default=1)
    piece = models.PositiveSmallIntegerField(default=1)
    crush = models.PositiveSmallIntegerField(default=1)
    gauge_step_mm = mm_column(null=True, blank=True)
    replaced_by = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaces"
    )

    class Meta:
        ordering = ["set", "plane", "position_deg", "piece", "crush", "pk"]
        constraints = [
            one_of("kind", Kind, "reading_kind_known"),
            on_the_clock("position_deg", "reading_on_the_clock"),
            models.CheckConstraint(
                condition=Q(kind__in=SIGNED_KINDS) | Q(value_mm__gt=0),
                name="reading_gap_and_height_positive",
            ),
            models.UniqueConstraint(
                fields=["set", "plane", "position_deg", "piece", "crush"],
                condition=Q(voided_at__isnull=True),
                name="reading_once_per_crush",
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None, voided_by=None, void_reason="", replaced_by=None)
                | (Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(void_reason="")),
                name="reading_void_has_who_and_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.set} at {self.position_deg}"
