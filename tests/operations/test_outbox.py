"""Work asked for is done once, tried again after a failure, and given up on in the open."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from qc import outbox
from qc.lookups.pages.work import work_state
from qc.models import OutboxItem
from tests.make import NOON

pytestmark = pytest.mark.django_db


def test_an_item_is_claimed_once_until_its_lease_ends() -> None:
    outbox.ask("qc.learn", at=NOON, round_id=1)
    now = timezone.now()
    first = outbox.claim(now)
    assert first is not None
    assert outbox.claim(now) is None
    again = outbox.claim(now + outbox.LEASE + timedelta(seconds=1))
    assert again is not None
    assert again.attempts == 0  # a lease that ran out is no failure


def test_an_effect_happens_once() -> None:
    item = outbox.ask("qc.learn", at=NOON, round_id=1)
    seen: list[int] = []
    for _ in range(2):
        outbox.consume(item.pk, lambda one: seen.append(one.pk))
    assert seen == [item.pk]
    item.refresh_from_db()
    assert item.done_at is not None


def test_a_failure_is_kept_put_off_and_at_last_left_dead() -> None:
    item = outbox.ask("qc.learn", at=NOON, round_id=1)

    def fail(_: OutboxItem) -> None:
        raise ValueError("no such round")

    for tried in range(1, outbox.TRIES + 1):
        OutboxItem.objects.filter(pk=item.pk).update(claimed_until=None)
        assert outbox.claim(timezone.now()) is not None
        with pytest.raises(ValueError, match="no such round"):
            outbox.consume(item.pk, fail)
        item.refresh_from_db()
        assert item.last_error == "ValueError: no such round"
        assert (item.dead_at is not None) is (tried == outbox.TRIES)
    state = work_state(now=NOON)
    assert (state.given_up_count, state.asked_at) == (1, None)
    assert outbox.revive() == 1
    assert outbox.claim(timezone.now()) is not None


def test_a_failing_item_does_not_stop_the_next() -> None:
    outbox.ask("qc.learn", at=NOON, round_id=10**9)
    other = outbox.ask("qc.learn", at=NOON, round_id=10**9)
    assert outbox.drain() == 2
    other.refresh_from_db()
    assert "DoesNotExist" in other.last_error


def test_a_message_is_tried_for_a_day() -> None:
    waits = [outbox.wait_after(tried) for tried in range(1, outbox.TRIES_TO_DELIVER)]
    assert waits == sorted(waits)
    assert timedelta(hours=24) < sum(waits, timedelta()) < timedelta(hours=27)


def test_what_waits_for_the_same_task_is_done_together() -> None:
    waiting = [outbox.ask("qc.learn", at=NOON, round_id=number) for number in range(3)]
    tried, other = waiting[1], outbox.ask("qc.follow_restart", at=NOON)
    OutboxItem.objects.filter(pk=tried.pk).update(attempts=1)
    seen: list[list[int]] = []

    def note(items: Sequence[OutboxItem]) -> None:
        seen.append([one.pk for one in items])

    outbox.consume_together(waiting[2].pk, note)
    assert seen == [[waiting[0].pk, waiting[2].pk]]
    left = OutboxItem.objects.filter(done_at=None).values_list("pk", flat=True)
    assert list(left) == [tried.pk, other.pk]
    outbox.ask("qc.learn", at=NOON, round_id=4)
    outbox.consume_together(tried.pk, note)
    assert seen[1] == [tried.pk], "what failed before is done by itself"
    outbox.consume_together(waiting[0].pk, note)
    assert len(seen) == 2


def test_work_asked_for_in_a_write_that_fails_is_not_asked_for() -> None:
    @transaction.atomic
    def write() -> None:
        outbox.ask("qc.learn", at=NOON, round_id=1)
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write()
    assert not OutboxItem.objects.exists()


def test_messages_wait_for_the_work_behind_the_pages() -> None:
    for task in (outbox.TELL, "qc.learn", outbox.TELL, "qc.learn"):
        outbox.ask(task, at=NOON)
    claimed: list[OutboxItem] = []
    outbox.drain(claimed.append)
    assert [one.task for one in claimed] == ["qc.learn", "qc.learn", outbox.TELL, outbox.TELL]
    assert claimed[0].pk < claimed[1].pk


def test_the_thread_beats_between_items_and_stops_after_the_one_in_hand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each item may wait some seconds for a receiver, and there may be many."""
    seen: list[str] = []
    drainer = outbox.Drainer()

    def send(_: OutboxItem) -> None:
        seen.append("sent")
        if seen.count("sent") == 2:
            drainer._stopping.set()

    monkeypatch.setattr(outbox, "BEAT_SECONDS", 0.0)
    monkeypatch.setattr(outbox, "beat", lambda worker: seen.append("beat"))
    monkeypatch.setattr(outbox, "run_here", send)
    monkeypatch.setattr(outbox, "close_old_connections", lambda: None)  # the test's own
    for _ in range(3):
        outbox.ask("qc.learn", at=NOON, round_id=1)
    drainer.run()
    assert seen == ["sent", "beat", "sent", "beat"]
