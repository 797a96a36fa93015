"""Whether the work that follows each write gets done: learning, flags, messages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings

from qc.models import Heartbeat, OutboxItem
from qc.outbox import OPEN

LISTED = 5


@dataclass(frozen=True)
class WorkTrouble:
    """What is wrong with the work behind the pages; each part is empty or None when it is well.

    silent_since: when a worker was last heard of, where that is too long ago; never_heard: none
    ever was, though work is waiting. waiting_since: the oldest open work, where it waits too long.
    """

    given_up: Sequence[OutboxItem]
    given_up_count: int
    silent_since: datetime | None
    never_heard: bool
    waiting_since: datetime | None

    def __bool__(self) -> bool:
        return bool(
            self.given_up_count or self.silent_since or self.never_heard or self.waiting_since
        )


def work_trouble(*, now: datetime) -> WorkTrouble:
    given_up = OutboxItem.objects.filter(dead_at__isnull=False)
    heard = Heartbeat.objects.order_by("-at").values_list("at", flat=True).first()
    waiting = OutboxItem.objects.filter(OPEN).order_by("pk")
    oldest = waiting.values_list("asked_at", flat=True).first()
    silent = heard is not None and now - heard > timedelta(seconds=settings.WORKER_SILENT_SECONDS)
    late = oldest is not None and now - oldest > timedelta(seconds=settings.OUTBOX_OLDEST_SECONDS)
    return WorkTrouble(
        given_up=list(given_up.order_by("-dead_at")[:LISTED]),
        given_up_count=given_up.count(),
        silent_since=heard if silent else None,
        never_heard=heard is None and oldest is not None,
        waiting_since=oldest if late else None,
    )
