"""What somebody typed, as typed and in mm, and how it is voided: the row stays."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from qc.models.columns import entered_value_column, mm_column, unit_column
from qc.models.people import BenchToken, Person


class Voidable(models.Model):
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    void_reason = models.TextField(blank=True)

    class Meta:
        abstract = True


class EnteredLength(Voidable):
    """One reading of an instrument. unit_confirmed: right although it looked like another unit."""

    value_mm = mm_column()
    entered_value = entered_value_column()
    entered_unit = unit_column()
    unit_confirmed = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    token = models.ForeignKey(
        BenchToken, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        abstract = True


def void_has_who_and_why(name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(voided_at=None, voided_by=None, void_reason="")
        | (Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(void_reason="")),
        name=name,
    )
