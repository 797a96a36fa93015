"""What people found about a flag's suspects: one that was in order, and a cause told afterwards."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from qc.models.flags import ABOUT, Flag, FlagState
from qc.models.people import Person
from qc.models.resources import ServiceEvent

FOUND = (FlagState.CAUSE_FOUND, FlagState.NONE_FOUND)


class FlagCheck(models.Model):
    """At `at`, one of a flag's suspects was looked at and found in order; written once.

    A flag that is closed with no cause found has one of these for each suspect that was looked at;
    one that stays open has them too, for its others are still in question.
    """

    flag = models.ForeignKey(Flag, on_delete=models.PROTECT, related_name="checks")
    kind = models.CharField(max_length=8)
    key = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True)
    service = models.ForeignKey(
        ServiceEvent, null=True, blank=True, on_delete=models.PROTECT, related_name="checks"
    )

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=ABOUT), name="flag_check_of_a_kind")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key} in order, {self.flag}"


class Finding(models.Model):
    """What a lead said afterwards of a flag that a service had cleared. It counts in the score, and
    changes nothing of what the watch was told."""

    flag = models.OneToOneField(Flag, on_delete=models.PROTECT, related_name="finding")
    state = models.CharField(max_length=12, choices=[(one, one.label) for one in FOUND])
    cause_kind = models.CharField(max_length=8, blank=True)
    cause_id = models.PositiveBigIntegerField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    note = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state=FlagState.NONE_FOUND, cause_kind="", cause_id=None)
                | Q(state=FlagState.CAUSE_FOUND, cause_kind__in=ABOUT, cause_id__isnull=False),
                name="finding_of_a_cause_or_none",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.flag}: {self.state}"
