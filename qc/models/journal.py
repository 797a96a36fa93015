"""The append-only journal: who did what, when, to what, before and after, and why."""

from __future__ import annotations

from typing import Any, Never

from django.db import models

from qc.models.jobs import Job
from qc.models.people import BenchToken, Person


class JournalEntry(models.Model):
    """One write. `digest` is the SHA-256 leaf hash of its content, so that a later edit shows."""

    at = models.DateTimeField()
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    token = models.ForeignKey(
        BenchToken, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    action = models.CharField(max_length=40)
    subject = models.CharField(max_length=60)
    job = models.ForeignKey(
        Job, null=True, blank=True, on_delete=models.PROTECT, related_name="journal"
    )
    before: models.JSONField[Any, Any] = models.JSONField(default=dict)
    after: models.JSONField[Any, Any] = models.JSONField(default=dict)
    why = models.TextField(blank=True)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "journal entries"
        indexes = [models.Index(fields=["subject"], name="journal_by_subject")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.action} {self.subject}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise TypeError("A journal entry is written once and never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Never:
        raise TypeError("A journal entry is never deleted.")
