"""Who is told what about a flag: each once, whatever the charts do."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
from datetime import timedelta

import pytest
from django.core import mail
from django.utils import timezone

from qc import outbox
from qc.errors import BadInput, NotAllowed, NotDelivered
from qc.models import (
    Answer,
    Flag,
    FlagState,
    Happening,
    JournalEntry,
    Notice,
    OutboxItem,
    Person,
    Round,
    ServiceKind,
    Webhook,
)
from qc.operations import decisions, flags, learning, notices, resources, webhooks
from tests.cutting import cut_some
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_shop
from tests.receiving import Receiver
from tests.telling import LATER, drain_all, events, letters, settle, standing, told

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("mail_server")]


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_each_is_told_once_and_by_a_signature_they_can_check(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    webhook = told(shop, receiver)
    one = standing(shop, measured)
    settle(one)
    settle(one)
    assert Notice.objects.count() == OutboxItem.objects.filter(outbox.OPEN).count() == 3
    drain_all()
    settle(one)
    drain_all()
    subject = "Fixture Plug A seems to have moved about 2 Mar 2026"
    assert letters() == [
        f"lena@shop.example: {subject}",
        f"vera@shop.example: {subject}",
    ]
    [(headers, body)] = receiver.got
    notice = Notice.objects.get(webhook=webhook)
    assert headers["webhook-id"] == notice.delivery_id
    # The signature by hand, as the specification has it.
    signed = f"{headers['webhook-id']}.{headers['webhook-timestamp']}.".encode() + body
    key = base64.b64decode(webhook.secret.removeprefix("whsec_"))
    by_hand = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
    assert headers["webhook-signature"] == f"v1,{by_hand}"
    assert abs(int(headers["webhook-timestamp"]) - timezone.now().timestamp()) < 60
    flag = Flag.objects.get()
    plug = {"kind": "fixture", "id": shop.fixture.pk, "name": "Plug A"}
    assert json.loads(body) == {
        "type": "flag.raised",
        "timestamp": LATER.isoformat(),
        "data": {
            "flag": flag.pk,
            "title": "Plug A seems to have moved",
            "state": "raised",
            "channel": "tilt",
            "about": plug,
            "named": {**plug, "probability": 0.93},
            "suspects": [{**plug, "probability": 0.93}],
            "probability": 0.93,
            "since": (NOON + timedelta(hours=2)).isoformat(),
            "since_job": measured.job_id,
            "size_mm": 0.08,
            "direction_deg": 140.0,
            "spread_ratio": None,
            "recommendation": flag.decision.recommended,
            "answer": "open",
            "address": f"https://shop.example/flags/{flag.pk}",
        },
    }
    assert {one.sent_at is not None for one in Notice.objects.all()} == {True}
    assert not OutboxItem.objects.filter(outbox.OPEN).exists()


def test_the_letter_says_what_the_page_says_in_its_readers_unit(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver)
    Person.objects.filter(pk=shop.viewer.person.pk).update(unit="thou")
    settle(standing(shop, measured))
    drain_all()
    lena, vera = sorted(mail.outbox, key=lambda one: one.to)
    assert (
        "Since about 2 Mar 2026: 0.080 mm side to side, wide toward 140° on its own clock. "
        "93 % sure that it is this one, if one of the shop's things moved." in lena.body
    )
    assert "3.1 thou side to side" in vera.body
    assert "misses its evenness limit" in lena.body
    assert f"https://shop.example/flags/{Flag.objects.get().pk}" in lena.body
    ids = {str(one.message()["Message-ID"]) for one in (lena, vera)}
    assert ids == {
        f"<{one.delivery_id}@shop.example>" for one in Notice.objects.filter(webhook=None)
    }


def test_a_rebuild_of_the_charts_tells_nobody_again(shop: Shop, receiver: Receiver) -> None:
    told(shop, receiver)
    cut_some(shop, 6)
    cut_some(shop, 4, begin=NOON + timedelta(days=60), side_to_side=0.08, wide_toward=140)
    outbox.drain()
    assert events(receiver) == ["flag.raised"]
    learning.rebuild_all(at=LATER, by=shop.lead)
    drain_all()
    assert Flag.objects.get().state == FlagState.RAISED
    assert (events(receiver), len(letters())) == (["flag.raised"], 2)


def test_a_flag_that_goes_and_comes_back_is_one_story(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver)
    one = standing(shop, measured)
    # Gone before anybody was told: nobody is told of either.
    settle(one)
    settle()
    drain_all()
    assert (events(receiver), letters()) == ([], [])
    settle(one)
    drain_all()
    assert events(receiver) == ["flag.raised"]
    # Withdrawn and found again before that was told.
    settle()
    settle(one)
    drain_all()
    assert (events(receiver), len(letters())) == (["flag.raised"], 2)
    # Told as withdrawn, so told when it comes back.
    settle()
    drain_all()
    settle(one)
    drain_all()
    assert events(receiver) == ["flag.raised", "flag.withdrawn", "flag.raised"]
    assert letters()[:3] == [
        "lena@shop.example: Fixture Plug A seems to have moved about 2 Mar 2026",
        "lena@shop.example: Fixture Plug A seems to have moved about 2 Mar 2026",
        "lena@shop.example: No longer flagged: Plug A",
    ]
    assert "withdrawn. The readings and limits now in force no longer show a move." in (
        mail.outbox[2].body
    )


def test_a_flag_about_a_person_goes_to_them_and_to_leads_and_to_no_webhook(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    webhook = told(shop, receiver, tells_decided=True)
    webhooks.set_mail(
        person=shop.operator.person,
        email="o@x.example",
        gets_flag_mail=True,
        by=shop.lead,
        at=NOON,
    )
    own = make_flag(measured, kind="person", key=shop.operator.person.pk)
    for happening in Happening:
        notices.announce(own, happening, at=LATER)
    told_to = set(Notice.objects.values_list("person__username", flat=True))
    assert told_to == {"lena", "oskar"}
    # Even one that was asked for by mistake is not sent.
    Notice.objects.filter(person__username="oskar").update(person=None, webhook=webhook)
    drain_all()
    assert receiver.got == []
    assert [one.partition(":")[0] for one in letters()] == ["lena@shop.example"]


def test_a_person_among_the_suspects_is_named_to_leads_alone(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver)
    tied = [("fixture", shop.fixture.pk, 0.6), ("person", shop.operator.person.pk, 0.38)]
    flag = make_flag(measured, kind="fixture", key=shop.fixture.pk, suspects=tied)
    notices.announce(flag, Happening.RAISED, at=LATER)
    drain_all()
    [(_, body)] = receiver.got
    suspect = json.loads(body)["data"]["suspects"][1]
    assert (suspect["id"], suspect["name"]) == (None, "somebody's technique")
    assert b"Oskar" not in body
    lena, vera = sorted(mail.outbox, key=lambda one: one.to)
    assert "- Oskar (technique), 38 %" in lena.body
    assert "Oskar" not in vera.body + vera.subject


def test_a_flag_that_has_come_to_name_a_person_tells_a_webhook_its_end_alone(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver, tells_decided=True)
    flag = make_flag(measured, kind="fixture", key=shop.fixture.pk)
    notices.announce(flag, Happening.RAISED, at=LATER)
    drain_all()
    mail.outbox.clear()
    notices.announce(flag, Happening.ACCEPTED, at=LATER)
    hands = {"kind": "person", "key": shop.operator.person.pk, "probability": 0.9}
    Flag.objects.update(suspects=[hands])
    flag.refresh_from_db()
    assert notices.announce(flag, Happening.PUT_OFF, at=LATER) == []
    Flag.objects.update(state=FlagState.NONE_FOUND, closed_at=LATER)
    notices.announce(flag, Happening.NONE_FOUND, at=LATER)
    drain_all()
    assert events(receiver) == ["flag.raised", "flag.none_found"]
    assert b"Oskar" not in receiver.got[1][1]
    assert letters() == ["lena@shop.example: No longer flagged: Oskar's technique"]


def test_whoever_closes_a_flag_is_not_mailed_that_they_did(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver, tells_decided=True)
    settle(standing(shop, measured))
    drain_all()
    flag = Flag.objects.get()
    decisions.answer(flag=flag, answer=Answer.PUT_OFF, why="Batch", by=shop.lead, at=LATER)
    decisions.answer(flag=flag, answer=Answer.PUT_OFF, why="Still", by=shop.lead, at=LATER)
    decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=shop.lead, at=LATER)
    decisions.answer(flag=flag, answer=Answer.PUT_OFF, why="No setter", by=shop.lead, at=LATER)
    flags.close_flag(flag=flag, state=FlagState.CAUSE_FOUND, why="A burr", by=shop.lead, at=LATER)
    mail.outbox.clear()
    drain_all()
    # A lamp shows the last decision: it hears of each that is another one.
    assert events(receiver) == [
        "flag.raised",
        "decision.put_off",
        "decision.accepted",
        "decision.put_off",
        "flag.cause_found",
    ]
    assert letters() == ["vera@shop.example: No longer flagged: Plug A"]
    assert "by Lena: cause found. A burr" in mail.outbox[0].body


def test_a_webhook_set_up_while_a_flag_is_open_hears_nothing_more_of_it(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    """But for one that is never told of raised flags: it hears of decisions and ends alike."""
    settle(standing(shop, measured))
    drain_all()
    late = told(shop, receiver, tells_decided=True)
    flag = Flag.objects.get()
    decisions.answer(flag=flag, answer=Answer.PUT_OFF, why="Batch", by=shop.lead, at=LATER)
    flags.close_flag(flag=flag, state=FlagState.CAUSE_FOUND, why="A burr", by=shop.lead, at=LATER)
    drain_all()
    assert events(receiver) == []
    needless = Notice.objects.filter(webhook=late).values_list("happening", "needless")
    assert set(needless) == {
        ("decision.put_off", "they were not told of the flag"),
        ("flag.cause_found", "they were not told of the flag"),
    }
    Webhook.objects.update(tells_raised=False)
    Notice.objects.filter(webhook=late).update(needless="")
    OutboxItem.objects.filter(notice__webhook=late).update(done_at=None)
    drain_all()
    assert sorted(events(receiver)) == ["decision.put_off", "flag.cause_found"]


def test_a_service_tells_that_the_flag_is_cleared(
    shop: Shop, measured: Round, receiver: Receiver
) -> None:
    told(shop, receiver, tells_raised=False)
    flag = make_flag(measured, kind="fixture", key=shop.fixture.pk)
    resources.record_service(subject=shop.fixture, kind=ServiceKind.DRESSED, by=shop.lead, at=LATER)
    drain_all()
    # Asked for the end alone, it is told the end; vera, who never heard of the flag, is not.
    assert letters() == []
    assert events(receiver) == ["flag.cleared"]
    assert Notice.objects.get(flag=flag, webhook__isnull=False).sent_at is not None


def test_only_a_lead_sets_who_is_told_and_the_journal_holds_no_secret(
    shop: Shop, receiver: Receiver
) -> None:
    webhook = told(shop, receiver)
    with pytest.raises(NotAllowed):
        webhooks.add_webhook(name="X", url=receiver.url, by=shop.operator, at=NOON)
    with pytest.raises(BadInput, match="never a webhook"):
        webhooks.change_webhook(
            webhook=webhook, url="http://169.254.1.1/", expected_version=1, by=shop.lead, at=LATER
        )
    webhooks.change_webhook(
        webhook=webhook, is_active=False, expected_version=1, by=shop.lead, at=LATER
    )
    receiver.status = 404
    with pytest.raises(NotDelivered, match="404"):
        webhooks.try_webhook(webhook=webhook, by=shop.lead, at=LATER)
    entries = JournalEntry.objects.filter(subject=f"Webhook {webhook.pk}")
    assert [one.action for one in entries] == ["webhook.added", "webhook.changed"]
    assert entries[1].before == {"is_active": True}
    assert "whsec" not in str([(one.before, one.after) for one in JournalEntry.objects.all()])
