"""What the service recommended when it raised a flag, and what a lead decided."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.db.models import Q

from qc.models.columns import one_of
from qc.models.flags import Flag
from qc.models.people import Person


class Recommended(models.TextChoices):
    REINDICATE = "reindicate", "re-indicate before the next job"
    RUN_ON = "run_on", "run on"
    CHECK_FIRST = "check_first", "check first"


class Answer(models.TextChoices):
    OPEN = "open", "not answered"
    ACCEPTED = "accepted", "accepted"
    PUT_OFF = "put_off", "put off"


class Decision(models.Model):
    """One a flag. figures: what the recommendation rested on, as it was told then. put_off_until:
    the day to decide again, where one was given. version: one more with each answer; the journal
    keeps the earlier ones."""

    flag = models.OneToOneField(Flag, on_delete=models.PROTECT, related_name="decision")
    recommended = models.CharField(max_length=12, choices=Recommended.choices)
    figures: models.JSONField[Any, Any] = models.JSONField(default=dict)
    made_at = models.DateTimeField()
    answer = models.CharField(max_length=8, choices=Answer.choices, default=Answer.OPEN)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    why = models.TextField(blank=True)
    put_off_until = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            one_of("recommended", Recommended, "decision_recommended_known"),
            one_of("answer", Answer, "decision_answer_known"),
            models.CheckConstraint(
                condition=Q(answer=Answer.OPEN, answered_at=None, answered_by=None)
                | (
                    ~Q(answer=Answer.OPEN) & Q(answered_at__isnull=False, answered_by__isnull=False)
                ),
                name="decision_answer_has_who_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(answer=Answer.PUT_OFF) | ~Q(why=""), name="decision_put_off_has_reason"
            ),
            models.CheckConstraint(
                condition=Q(answer=Answer.PUT_OFF) | Q(put_off_until=None),
                name="decision_put_off_has_its_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.flag}: {self.recommended}, {self.answer}"

    def is_put_off(self, *, today: date) -> bool:
        """Whether it is put off, and the day to decide again has not come."""
        until = self.put_off_until
        return self.answer == Answer.PUT_OFF and (until is None or until > today)
