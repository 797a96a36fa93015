"""Who is told about flags: the shop's webhooks, and what was sent to whom."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from qc.models.columns import one_of
from qc.models.flags import Flag
from qc.models.outbox import OutboxItem
from qc.models.people import Person


class Happening(models.TextChoices):
    """What somebody is told of; a flag's end is told by the state it ended in."""

    RAISED = "flag.raised", "flag raised"
    CAUSE_FOUND = "flag.cause_found", "flag closed: cause found"
    NONE_FOUND = "flag.none_found", "flag closed: no cause found"
    CLEARED = "flag.cleared", "flag cleared by service"
    WITHDRAWN = "flag.withdrawn", "flag withdrawn"
    ACCEPTED = "decision.accepted", "recommendation accepted"
    PUT_OFF = "decision.put_off", "recommendation put off"


ENDS = (Happening.CAUSE_FOUND, Happening.NONE_FOUND, Happening.CLEARED, Happening.WITHDRAWN)
DECISIONS = (Happening.ACCEPTED, Happening.PUT_OFF)


class Webhook(models.Model):
    """An address that is told by a signed POST. The secret is kept as it is: it signs each one."""

    name = models.CharField(max_length=80)
    url = models.CharField(max_length=500)
    secret = models.CharField(max_length=100)
    is_active = models.BooleanField(default=True)
    tells_raised = models.BooleanField(default=True)
    tells_ended = models.BooleanField(default=True)
    tells_decided = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(url__startswith="https://") | Q(url__startswith="http://"),
                name="webhook_by_http",
            ),
            models.UniqueConstraint(
                fields=["name"], condition=Q(retired_at=None), name="webhook_name_once_in_use"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_retired(self) -> bool:
        return self.retired_at is not None

    @property
    def is_told(self) -> bool:
        return self.is_active and not self.is_retired

    @property
    def is_plain(self) -> bool:
        """Whether anybody on the way can read it."""
        return self.url.startswith("http://")


class Notice(models.Model):
    """One message about one thing that happened to a flag, to one person or one webhook.

    Made once, however often the charts are rebuilt; of decisions, once for each. delivery_id is the
    same for each try. sending_until: a worker is at it until then. needless: why it was not sent
    after all.
    """

    flag = models.ForeignKey(Flag, on_delete=models.PROTECT, related_name="notices")
    happening = models.CharField(max_length=20, choices=Happening.choices)
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="notices"
    )
    webhook = models.ForeignKey(
        Webhook, null=True, blank=True, on_delete=models.PROTECT, related_name="notices"
    )
    item = models.OneToOneField(OutboxItem, on_delete=models.PROTECT, related_name="notice")
    delivery_id = models.CharField(max_length=40, unique=True)
    at = models.DateTimeField()
    sending_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    last_answer = models.CharField(max_length=300, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    needless = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            one_of("happening", Happening, "notice_happening_known"),
            models.CheckConstraint(
                condition=Q(person__isnull=True, webhook__isnull=False)
                | Q(person__isnull=False, webhook__isnull=True),
                name="notice_to_one",
            ),
            *(
                models.UniqueConstraint(
                    fields=["flag", "happening", name],
                    condition=Q(**{f"{name}__isnull": False}) & ~Q(happening__in=DECISIONS),
                    name=f"notice_once_a_{name}",
                )
                for name in ("person", "webhook")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.happening} of flag {self.flag_id} to {self.recipient}"

    @property
    def recipient(self) -> Any:
        """A Person or a Webhook."""
        return self.webhook if self.person is None else self.person

    @property
    def is_given_up(self) -> bool:
        return self.sent_at is None and not self.needless and self.item.dead_at is not None
