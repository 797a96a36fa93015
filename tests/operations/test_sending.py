"""How messages about flags are sent: tried again, in order, once, with nothing held up."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from qc import outbox
from qc.errors import BadInput, NotAllowed
from qc.models import (
    Flag,
    FlagState,
    Happening,
    Notice,
    OutboxItem,
    Round,
    State,
)
from qc.operations import flags, notices, sending, webhooks
from tests.flagged import make_flag
from tests.make import Shop, make_job, make_shop
from tests.receiving import Receiver
from tests.telling import LATER, drain_all, events, letters, settle, standing, told

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("mail_server")]


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_a_receiver_that_fails_is_tried_again_alone_and_given_up_in_the_open(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    webhook = told(shop, receiver)
    receiver.status, receiver.says = 503, b"Bulb gone"
    settle(standing(shop, measured))
    outbox.drain()
    notice = Notice.objects.get(webhook=webhook)
    item = notice.item
    assert (notice.tries, notice.last_answer) == (1, "Answered 503: Bulb gone")
    assert notice.sending_until is None
    # Put off by 2, 4, 8, ... seconds.
    assert item.claimed_until is not None
    assert timedelta(0) < item.claimed_until - timezone.now() <= timedelta(seconds=2)
    for _ in range(outbox.TRIES_TO_DELIVER - 1):
        drain_all()
    notice = Notice.objects.get(pk=notice.pk)
    assert (notice.tries, notice.is_given_up) == (outbox.TRIES_TO_DELIVER, True)
    assert len(letters()) == 2
    with pytest.raises(NotAllowed):
        notices.send_again(notice=notice, by=shop.operator, at=LATER)
    notices.send_again(notice=notice, by=shop.lead, at=LATER)
    with pytest.raises(BadInput, match="not given up"):
        notices.send_again(notice=notice, by=shop.lead, at=LATER)
    receiver.status, receiver.says = 200, b""
    drain_all()
    notice = Notice.objects.get(pk=notice.pk)
    assert notice.sent_at is not None
    assert {headers["webhook-id"] for headers, _ in receiver.got} == {notice.delivery_id}
    assert len(letters()) == 2


def test_the_end_of_a_flag_does_not_overtake_its_beginning(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    webhook = told(shop, receiver)
    receiver.status = 503
    settle(standing(shop, measured))
    outbox.drain()
    # It was put off by two seconds; however slow this goes, it waits until all are drained.
    OutboxItem.objects.filter(outbox.OPEN).update(claimed_until=timezone.now() + timedelta(days=1))
    receiver.status = 204
    flags.close_flag(
        flag=Flag.objects.get(), state=FlagState.NONE_FOUND, why="x", by=shop.lead, at=LATER
    )
    outbox.drain()
    raised, ended = Notice.objects.filter(webhook=webhook).order_by("pk")
    assert (ended.tries, ended.sent_at, ended.needless) == (0, None, "")
    drain_all()
    raised.refresh_from_db()
    ended.refresh_from_db()
    assert raised.needless == "the flag was closed before it was sent"
    assert ended.needless == "they were not told of the flag"
    assert events(receiver) == ["flag.raised"]  # the one that was not taken


def test_who_is_told_no_more_is_not_told_what_was_waiting(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    webhook = told(shop, receiver)
    settle(standing(shop, measured))
    # Given up already: it would ask for somebody for ever.
    OutboxItem.objects.filter(
        Q(notice__webhook=webhook) | Q(notice__person=shop.viewer.person)
    ).update(dead_at=LATER)
    webhooks.retire_webhook(webhook=webhook, by=shop.lead, at=LATER, why="Sold")
    webhooks.set_mail(
        person=shop.viewer.person, email="", gets_flag_mail=False, by=shop.lead, at=LATER
    )
    drain_all()
    assert receiver.got == []
    assert len(letters()) == 1
    assert set(Notice.objects.filter(sent_at=None).values_list("needless", flat=True)) == {
        "the webhook was switched off",
        "e-mail about flags was switched off",
    }
    assert not OutboxItem.objects.exclude(done_at__isnull=False, dead_at=None).exists()


def test_without_a_mail_server_nobody_is_mailed_and_nothing_fails(
    shop: Shop, measured: Round, receiver: Receiver, settings: object
) -> None:
    told(shop, receiver)
    settings.MAIL_IS_SET_UP = False  # type: ignore[attr-defined]
    settle(standing(shop, measured))
    assert Notice.objects.get().person is None
    with pytest.raises(BadInput, match="No mail server"):
        webhooks.try_mail(by=shop.lead, shop_name="The shop")


def test_two_workers_at_one_message_send_it_once(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver)
    settle(standing(shop, measured))
    item = Notice.objects.get(webhook__isnull=False).item
    now = timezone.now()
    Notice.objects.update(sending_until=now + timedelta(seconds=30))
    assert sending.tell(item, at=now) is False
    assert receiver.got == []
    # Its worker is gone: another takes over once its minute is over.
    assert sending.tell(item, at=now + timedelta(seconds=61)) is True
    assert sending.tell(item, at=now + timedelta(seconds=200)) is True
    assert len(receiver.got) == 1


@pytest.mark.django_db(transaction=True)
def test_nothing_is_locked_while_a_receiver_is_waited_for(receiver: Receiver) -> None:
    """The receiver writes to the shop's database before it answers, as any bench may meanwhile: on
    SQLite it would wait for as long as the sender holds a transaction, and the answer with it."""
    shop = make_shop()
    webhook = told(shop, receiver)
    flag = make_flag(
        make_job(shop, state=State.MEASURED).rounds.get(), kind="fixture", key=shop.fixture.pk
    )
    notices.announce(flag, Happening.RAISED, at=LATER)
    receiver.before = lambda: outbox.beat("a bench")
    item = Notice.objects.get(webhook=webhook).item
    outbox.deliver(item.pk, lambda one: sending.tell(one, at=timezone.now()))
    item.refresh_from_db()
    assert item.done_at is not None
    # And inside somebody's transaction it is refused outright.
    Notice.objects.update(sent_at=None)
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        sending.tell(item, at=timezone.now())
    assert len(receiver.got) == 1
