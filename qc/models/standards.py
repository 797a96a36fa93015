"""Setting standards of known size, and the checks of gauges against them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from qc.models.columns import at_least_zero, entered_value_column, mm_column, unit_column
from qc.models.entered import EnteredLength, void_has_who_and_why
from qc.models.resources import Gauge, Resource


class Standard(Resource):
    """A block, ring or piece of known size. `u_mm`: standard uncertainty of its certificate.

    A new certificate is a new standard: what was read against the old one keeps the old value.
    """

    value_mm = mm_column()
    value_value = entered_value_column()
    value_unit = unit_column()
    u_mm = mm_column(default=0)

    class Meta(Resource.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(condition=Q(value_mm__gt=0), name="standard_size_positive"),
            at_least_zero("u_mm", "standard_u_not_negative"),
        ]


class GaugeCheck(EnteredLength):
    """One reading of one standard with one gauge, as entered and in mm. Void keeps the row."""

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="checks")
    standard = models.ForeignKey(Standard, on_delete=models.PROTECT, related_name="checks")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["gauge", "at"], name="checks_by_gauge")]
        constraints = [
            models.CheckConstraint(condition=Q(value_mm__gt=0), name="check_positive"),
            void_has_who_and_why("check_void_has_who_and_why"),
        ]

    def __str__(self) -> str:
        return f"{self.gauge} on {self.standard}: {self.entered_value} {self.entered_unit}"

    @property
    def off_mm(self) -> float:
        """Reading minus standard: positive means the gauge reads over."""
        return float(self.value_mm - self.standard.value_mm)
