"""Flags that stand, who is told of them, and what reached each: for tests of notices."""

from __future__ import annotations

import json
from datetime import timedelta

from django.core import mail

from qc import outbox
from qc.lookups.watch.kept_drift import Standing
from qc.lookups.watch.watch_now import watch_now
from qc.models import (
    OutboxItem,
    Round,
    Webhook,
)
from qc.numerics.drift import Move
from qc.operations import flags, webhooks
from tests.make import NOON, Shop
from tests.receiving import Receiver

LATER = NOON + timedelta(days=3)


def told(shop: Shop, receiver: Receiver, **what: bool) -> Webhook:
    """The lead and the viewer get e-mail, and one webhook is told."""
    for person in (shop.lead.person, shop.viewer.person):
        webhooks.set_mail(
            person=person,
            email=f"{person.username}@shop.example",
            gets_flag_mail=True,
            by=shop.lead,
            at=NOON,
        )
    return webhooks.add_webhook(name="Lamp", url=receiver.url, by=shop.lead, at=NOON, **what)


def standing(shop: Shop, round_: Round) -> Standing:
    suspects = ({"kind": "fixture", "key": shop.fixture.pk, "probability": 0.93},)
    move = Move(0.08, 0.004, 140.0, 0, 0, 0, 0.1)
    return Standing("tilt", "fixture", shop.fixture.pk, round_.pk, 20.0, 12.0, suspects, move)


def settle(*standing: Standing) -> None:
    watch = watch_now()
    assert watch is not None
    flags.settle(standing, watch=watch, at=LATER)


def drain_all() -> None:
    """Run what is open, whatever was put off."""
    OutboxItem.objects.filter(outbox.OPEN).update(claimed_until=None)
    outbox.drain()


def letters() -> list[str]:
    return sorted(f"{one.to[0]}: {one.subject}" for one in mail.outbox)


def events(receiver: Receiver) -> list[str]:
    return [json.loads(body)["type"] for _, body in receiver.got]
