"""What the API itself remembers: the answers it may have to give twice."""

from __future__ import annotations

from typing import Any

from django.db import models

from qc.models import BenchToken


class IdempotentReply(models.Model):
    """The answer to one write, under the key its sender chose.

    Made and filled in the write's own transaction: a row that anyone else can see has its answer.
    """

    token = models.ForeignKey(BenchToken, on_delete=models.CASCADE, related_name="replies")
    key = models.CharField(max_length=200)
    request_hash = models.CharField(max_length=64, help_text="Of method, path and body.")
    at = models.DateTimeField(db_index=True)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.TextField(blank=True)
    headers: models.JSONField[Any, Any] = models.JSONField(default=dict)

    class Meta:
        verbose_name_plural = "idempotent replies"
        constraints = [
            models.UniqueConstraint(fields=["token", "key"], name="reply_once_per_token_and_key")
        ]

    def __str__(self) -> str:
        return self.key
