"""What whoever stands at the lathe did to a fixture, until a lead makes it a service."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from qc.models.columns import mm_column
from qc.models.jobs import Job
from qc.models.people import Person
from qc.models.resources import Fixture, ServiceEvent


class Reindication(models.Model):
    """Reported at `at`, when it was done, from the page of `job` where it was. Answered by a lead:
    with the service it became, or with none where it was set aside; or by who reported it, who took
    it back. One at a time waits for a fixture."""

    fixture = models.ForeignKey(Fixture, on_delete=models.PROTECT, related_name="reindications")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    as_found_mm = mm_column(null=True, blank=True)
    as_left_mm = mm_column()
    note = models.TextField(blank=True)
    job = models.ForeignKey(
        Job, null=True, blank=True, on_delete=models.PROTECT, related_name="reindications"
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    service = models.OneToOneField(
        ServiceEvent, null=True, blank=True, on_delete=models.PROTECT, related_name="reported"
    )

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["fixture"], condition=Q(answered_at=None), name="one_reindication_waits"
            ),
            models.CheckConstraint(
                condition=Q(answered_at=None, answered_by=None, service=None)
                | Q(answered_at__isnull=False, answered_by__isnull=False),
                name="reindication_answer_has_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fixture} re-indicated, as reported"

    @property
    def is_taken_back(self) -> bool:
        return self.service_id is None and self.answered_by_id == self.by_id
