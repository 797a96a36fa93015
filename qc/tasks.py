"""Celery tasks: the work that follows a write. Each takes an outbox item and leaves its effect."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from qc import outbox
from qc.errors import NotDelivered
from qc.operations import learning, sending


@shared_task(name="qc.learn", acks_late=True, soft_time_limit=100, time_limit=120)
def learn(*, item_id: int) -> None:
    outbox.consume_together(
        item_id,
        lambda items: learning.learn(
            round_ids=[one.arguments["round_id"] for one in items], at=items[-1].asked_at
        ),
    )


@shared_task(name="qc.follow_restart", acks_late=True, soft_time_limit=100, time_limit=120)
def follow_restart(*, item_id: int) -> None:
    outbox.consume(
        item_id, lambda item: learning.follow_restart(**item.arguments, at=item.asked_at)
    )


@shared_task(
    name=outbox.TELL, acks_late=True, soft_time_limit=60, time_limit=70, throws=(NotDelivered,)
)
def tell(*, item_id: int) -> None:
    outbox.deliver(item_id, lambda item: sending.tell(item, at=timezone.now()))
