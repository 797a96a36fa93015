"""Work asked for in the same transaction as the write that needs it."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q


class OutboxItem(models.Model):
    """One task to run. Open until `done_at`; `dead_at` when it failed too often to try again."""

    task = models.CharField(max_length=60)
    arguments: models.JSONField[Any, Any] = models.JSONField(default=dict)
    asked_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    done_at = models.DateTimeField(null=True, blank=True)
    dead_at = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["id"],
                condition=Q(done_at__isnull=True, dead_at__isnull=True),
                name="outbox_open",
            )
        ]

    def __str__(self) -> str:
        return f"{self.task} #{self.pk}"


class Heartbeat(models.Model):
    """When a worker last did something: a dead worker is silent otherwise."""

    worker = models.CharField(max_length=60, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.worker} {self.at:%H:%M:%S}"
