"""Whether the work that follows each write gets done: learning, flags, messages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings

from qc.models import Heartbeat, OutboxItem
from qc.outbox import OPEN, TELL

LISTED = 5


@dataclass(frozen=True)
class WorkState:
    """How the work behind the pages stands at `now`, which pages and /health both judge by.

    heard_at: the newest word of any worker. asked_at: when the oldest open work was asked for, but
    for messages, which are late when their receiver is.
    """

    now: datetime
    heard_at: datetime | None
    asked_at: datetime | None
    given_up_count: int

    @property
    def is_silent(self) -> bool:
        """A worker was heard of once, and too long ago."""
        return _is_older(self.heard_at, self.now, settings.WORKER_SILENT_SECONDS)

    @property
    def is_late(self) -> bool:
        return _is_older(self.asked_at, self.now, settings.OUTBOX_OLDEST_SECONDS)


def _is_older(at: datetime | None, now: datetime, seconds: int) -> bool:
    return at is not None and now - at > timedelta(seconds=seconds)


def work_state(*, now: datetime) -> WorkState:
    waiting = OutboxItem.objects.filter(OPEN).exclude(task=TELL).order_by("pk")
    return WorkState(
        now=now,
        heard_at=Heartbeat.objects.order_by("-at").values_list("at", flat=True).first(),
        asked_at=waiting.values_list("asked_at", flat=True).first(),
        given_up_count=OutboxItem.objects.filter(dead_at__isnull=False).count(),
    )


@dataclass(frozen=True)
class WorkTrouble:
    """What is wrong with the work behind the pages; each part is empty or None when it is well.

    silent_since: when a worker was last heard of, where that is too long ago; never_heard: none
    ever was, though work is waiting. waiting_since: the oldest open work, where it waits too long.
    untold_count: messages about flags that nobody took, which are no work behind the pages.
    """

    given_up: Sequence[OutboxItem]
    given_up_count: int
    untold_count: int
    silent_since: datetime | None
    never_heard: bool
    waiting_since: datetime | None

    def __bool__(self) -> bool:
        return bool(self.is_behind or self.untold_count)

    @property
    def is_behind(self) -> bool:
        """Whether charts and flags lack something."""
        return bool(
            self.given_up_count or self.silent_since or self.never_heard or self.waiting_since
        )


def work_trouble(*, now: datetime) -> WorkTrouble:
    state = work_state(now=now)
    given_up = OutboxItem.objects.filter(dead_at__isnull=False).exclude(task=TELL)
    given_up_count = given_up.count()
    return WorkTrouble(
        given_up=list(given_up.order_by("-dead_at")[:LISTED]),
        given_up_count=given_up_count,
        untold_count=state.given_up_count - given_up_count,
        silent_since=state.heard_at if state.is_silent else None,
        never_heard=state.heard_at is None and state.asked_at is not None,
        waiting_since=state.asked_at if state.is_late else None,
    )
