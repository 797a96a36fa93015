"""Work that must follow a write: asked for in the write's own transaction, run soon after.

One table serves both ways of running. The embedded service drains it with a thread that runs
each Celery task in place; a big shop runs `manage.py relay`, which hands the same tasks to
Celery workers. Either way a task may be tried twice, and its effect happens once: `consume`
marks the row done in the transaction of the effect. What leaves the shop, a message, cannot be
undone with a transaction: `deliver` sends it with none open and marks the row afterwards.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from celery import current_app
from django.db import close_old_connections, transaction
from django.db.models import Case, Q, QuerySet, When
from django.utils import timezone

from qc.models import Heartbeat, OutboxItem

log = logging.getLogger(__name__)

LEASE = timedelta(seconds=150)  # Longer than Celery's hard time limit for one task.
TRIES = 8
MOST_TOGETHER = 500
# A receiver may be off for the night; its messages are tried for a day, hourly in the end.
TRIES_TO_DELIVER = 36
LONGEST_WAIT = timedelta(hours=1)
TELL = "qc.tell"  # Messages: they wait for somebody else's server, and nothing waits for them.
BEAT_SECONDS = 30.0  # Each beat is a write to disk; health allows several to be missed.
OPEN = Q(done_at__isnull=True, dead_at__isnull=True)
_wake = threading.Event()


def ask(task: str, *, at: datetime, **arguments: object) -> OutboxItem:
    """Ask for `task` inside the caller's transaction. `at` is the time the task acts for."""
    item = OutboxItem.objects.create(task=task, arguments=arguments, asked_at=at)
    transaction.on_commit(_wake.set)
    return item


def claim(now: datetime) -> OutboxItem | None:
    """Take the oldest open item for one lease, or None; a message only where nothing else is open:
    it may wait for its receiver, and be due again before the others are done. Two claimers never
    get the same one."""
    free = Q(claimed_until__isnull=True) | Q(claimed_until__lt=now)
    is_message = Case(When(task=TELL, then=1), default=0)
    for item in OutboxItem.objects.filter(OPEN & free).order_by(is_message, "pk")[:10]:
        taken = OutboxItem.objects.filter(
            OPEN, pk=item.pk, claimed_until=item.claimed_until
        ).update(claimed_until=now + LEASE)
        if taken:
            return item
    return None


def consume(item_id: int, effect: Callable[[OutboxItem], None]) -> None:
    """Run `effect` once for this item and mark it done, all in one transaction.

    A failure is recorded, put off for a while and raised again; after TRIES it is left dead.
    """
    _consume(item_id, lambda items: effect(items[0]), takes_along=False)


def consume_together(item_id: int, effect: Callable[[Sequence[OutboxItem]], None]) -> None:
    """As `consume`, for this item and all of its task that wait, in the order they were asked for.

    What was tried before in vain is done by itself, so that one bad item holds up no other.
    """
    _consume(item_id, effect, takes_along=True)


def _consume(
    item_id: int, effect: Callable[[Sequence[OutboxItem]], None], *, takes_along: bool
) -> None:
    try:
        with transaction.atomic():
            items = [OutboxItem.objects.select_for_update().get(pk=item_id)]
            if items[0].done_at is not None:
                return
            if takes_along and not items[0].attempts:
                items = sorted([*items, *_like(items[0])], key=lambda one: one.pk)
            effect(items)
            OutboxItem.objects.filter(pk__in=[one.pk for one in items]).update(
                done_at=timezone.now(), last_error=""
            )
    except Exception as error:
        _put_off(item_id, f"{type(error).__name__}: {error}")
        raise


def _like(item: OutboxItem) -> QuerySet[OutboxItem]:
    """Others of its task that were not tried yet and that no other worker has in hand."""
    waiting = OutboxItem.objects.select_for_update(skip_locked=True)
    return waiting.filter(OPEN, task=item.task, attempts=0).exclude(pk=item.pk)[:MOST_TOGETHER]


def deliver(item_id: int, send: Callable[[OutboxItem], bool]) -> None:
    """Run `send` for this item with no transaction open; mark it done where it says True.

    A slow receiver would otherwise hold a lock for as long as it is waited for, and with SQLite
    every writer of the shop with it. The price: where the process ends between sending and
    marking, the item is sent again, so what is sent carries an id by which the receiver knows a
    repeat. Failures are put off as in `consume`, until TRIES_TO_DELIVER.
    """
    item = OutboxItem.objects.get(pk=item_id)
    if item.done_at is not None:
        return
    try:
        if send(item):
            OutboxItem.objects.filter(pk=item_id).update(done_at=timezone.now(), last_error="")
    except Exception as error:
        _put_off(item_id, f"{type(error).__name__}: {error}", tries=TRIES_TO_DELIVER)
        raise


def wait_after(attempts: int) -> timedelta:
    """Until the next try, after so many in vain."""
    return min(timedelta(seconds=2**attempts), LONGEST_WAIT)


def _put_off(item_id: int, error: str, *, tries: int = TRIES) -> None:
    item = OutboxItem.objects.get(pk=item_id)
    item.attempts += 1
    item.claimed_until = timezone.now() + wait_after(item.attempts)
    item.last_error = error
    if item.attempts >= tries:
        item.dead_at = timezone.now()
    item.save(update_fields=["attempts", "claimed_until", "last_error", "dead_at"])


def run_here(item: OutboxItem) -> None:
    """Run the item's task in this thread. The failure is on the row already; log it and go on."""
    outcome = current_app.tasks[item.task].apply(kwargs={"item_id": item.pk})
    if outcome.failed():
        log.error("Outbox item %s failed: %s", item, outcome.result)


def hand_over(item: OutboxItem) -> None:
    """Give the item to a Celery worker. Raises when the broker cannot be reached."""
    current_app.send_task(item.task, kwargs={"item_id": item.pk}, retry=False)


def send_next(send: Callable[[OutboxItem], None] = run_here) -> bool:
    """Claim and send one item; whether any was free."""
    item = claim(timezone.now())
    if item is None:
        return False
    send(item)
    return True


def drain(send: Callable[[OutboxItem], None] = run_here) -> int:
    """Claim and send every item that is free now; how many were sent."""
    sent = 0
    while send_next(send):
        sent += 1
    return sent


def release_claim(item: OutboxItem) -> None:
    """Undo a claim whose hand-over failed, so that the next relay round tries it again."""
    OutboxItem.objects.filter(pk=item.pk).update(claimed_until=None)


def revive(**which: object) -> int:
    """Try again what was given up, once its cause is mended: all of it, or the items that `which`
    picks out; how many."""
    dead = OutboxItem.objects.filter(dead_at__isnull=False, **which)
    revived = dead.update(dead_at=None, claimed_until=None, attempts=0)
    transaction.on_commit(_wake.set)
    return revived


def beat(worker: str) -> None:
    Heartbeat.objects.update_or_create(worker=worker, defaults={"at": timezone.now()})


class Drainer(threading.Thread):
    """The embedded service's one worker."""

    def __init__(self, *, poll_seconds: float = 1.0) -> None:
        super().__init__(name="outbox", daemon=True)
        self._poll_seconds = poll_seconds
        self._stopping = threading.Event()

    def run(self) -> None:
        next_beat = 0.0
        while not self._stopping.is_set():
            _wake.clear()
            is_busy = False
            try:
                close_old_connections()
                # One at a time: many slow receivers must not silence the heartbeat.
                is_busy = send_next(run_here)
                if time.monotonic() >= next_beat:
                    beat("outbox thread")
                    next_beat = time.monotonic() + BEAT_SECONDS
            except Exception:
                log.exception("The outbox could not be drained; trying again.")
            if not is_busy:
                _wake.wait(self._poll_seconds)
        close_old_connections()

    def stop(self) -> None:
        """Finish the item in hand, then end."""
        self._stopping.set()
        _wake.set()
        self.join(timeout=30)


def start_thread() -> Drainer:
    drainer = Drainer()
    drainer.start()
    return drainer
