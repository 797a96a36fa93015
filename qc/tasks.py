"""Celery tasks: the work that follows a write. Each takes an outbox item and leaves its effect."""

from __future__ import annotations

from celery import shared_task

from qc import outbox
from qc.operations import learning


@shared_task(name="qc.learn", acks_late=True, soft_time_limit=100, time_limit=120)
def learn(*, item_id: int) -> None:
    outbox.consume(
        item_id,
        lambda item: learning.learn(round_id=item.arguments["round_id"], at=item.asked_at),
    )


@shared_task(name="qc.follow_restart", acks_late=True, soft_time_limit=100, time_limit=120)
def follow_restart(*, item_id: int) -> None:
    outbox.consume(
        item_id, lambda item: learning.follow_restart(**item.arguments, at=item.asked_at)
    )
