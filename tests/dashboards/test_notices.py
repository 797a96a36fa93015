"""The pages on which leads set who is told about flags, and see what became of each message."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from qc import outbox
from qc.lookups.flags.notices import LISTED
from qc.models import DriftChannel, Happening, Notice, OutboxItem, State, Webhook
from qc.operations import notices, webhooks
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import send
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job
from tests.receiving import Receiver, receiving

TOLD = {"name": "Lamp", "is_active": "on", "tells_raised": "on"}


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as one:
        yield one


def test_a_webhook_is_set_up_shown_its_secret_once_changed_and_retired(
    shop: Shop, lead: Client, receiver: Receiver
) -> None:
    made = lead.post("/shop/webhooks/new", {**TOLD, "url": receiver.url})
    webhook = Webhook.objects.get()
    where = f"/shop/webhooks/{webhook.pk}"
    assert webhook.secret in made.text
    assert "not encrypted" in made.text
    assert "no-store" in made.headers["Cache-Control"]
    assert (webhook.tells_raised, webhook.tells_ended) == (True, False)
    page = lead.get(where).text
    assert webhook.secret not in page
    assert "not encrypted" in page
    assert "Set up a webhook" in page
    done = lead.post(f"{where}/test", follow=True)
    assert "The test was taken. Answered 204" in done.text
    assert receiver.got[0][1].startswith(b'{"type":"webhook.test"')
    receiver.status = 500
    assert "not taken. Answered 500" in lead.post(f"{where}/test", follow=True).text
    send(lead, f"{where}/change", {"url": "https://lamp.example/", "is_active": None})
    page = lead.get(where).text
    assert "switched off" in page
    assert "not encrypted" not in page
    seen = {"version": "1", **TOLD, "url": "https://other.example/"}
    late = lead.post(f"{where}/change", seen)
    assert late.status_code == 409
    assert "On record now: https://lamp.example/" in late.text
    assert lead.post(f"{where}/retire", {"why": " "}).status_code == 422
    page = lead.post(f"{where}/retire", {"why": "Bulb sold"}, follow=True).text
    assert "Bulb sold" in page
    assert f"{where}/change" not in page
    assert lead.post(f"{where}/change", {**seen, "version": "3"}).status_code == 422


def test_a_message_about_a_set_names_no_one_of_it_alone(
    shop: Shop, lead: Client, receiver: Receiver
) -> None:
    webhooks.add_webhook(name="Lamp", url=receiver.url, by=shop.lead, at=NOON)
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    tied = [("edge", shop.edge.pk, 0.55), ("lathe", shop.lathe.pk, 0.4)]
    flag = make_flag(
        round_, kind="edge", key=shop.edge.pk, channel=DriftChannel.HEIGHT, suspects=tied
    )
    own = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    for one in (flag, own):
        notices.announce(one, Happening.RAISED, at=NOON)
    page = lead.get("/shop/notices").text
    assert "Flag raised: one of 2, Insert 1 the likeliest</a>" in page
    assert "Flag raised: Plug A</a>" in page


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"url": "lamp.example"}, "url"),
        ({"url": "http://169.254.169.254/"}, "url"),
        ({"url": "https://lamp.example/", "tells_raised": ""}, "tells_raised"),
        ({"url": "https://lamp.example/", "name": ""}, "name"),
    ],
)
def test_what_cannot_be_stays_as_typed(
    shop: Shop, lead: Client, typed: dict[str, Any], field: str
) -> None:
    answer = lead.post("/shop/webhooks/new", {**TOLD, **typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {field}
    assert f'value="{typed["url"]}"' in answer.text
    assert not Webhook.objects.exists()


def test_who_gets_mail_is_set_and_told(shop: Shop, lead: Client, settings: Any) -> None:
    page = lead.get("/shop/notices").text
    assert "No mail server is set up, so no e-mail is sent." in page
    assert "Send me a test" not in page
    where = f"/shop/notices/people/{shop.lead.person.pk}"
    bare = lead.post(where, {"gets_flag_mail": "on"})
    assert "Give the address to write to." in bare.text
    wrong = lead.post(where, {"gets_flag_mail": "on", "email": "lena"})
    assert wrong.status_code == 422
    assert 'value="lena"' in wrong.text
    assert "No mail server is set up." in lead.post("/shop/notices/test", follow=True).text
    send(lead, where, {"email": "lena@x.example", "gets_flag_mail": "on"}, holding="email")
    settings.MAIL_IS_SET_UP, settings.DEFAULT_FROM_EMAIL = True, "ledger@shop.example"
    page = lead.get("/shop/notices").text
    assert "gets e-mail" in page
    assert "lena@x.example" in page
    assert "Changed a person&#x27;s e-mail" in page
    done = lead.post("/shop/notices/test", follow=True)
    assert "The mail server took it." in done.text
    assert mail.outbox[0].to == ["lena@x.example"]


def test_a_message_given_up_is_told_and_sent_again(
    shop: Shop, lead: Client, bench: Client, receiver: Receiver
) -> None:
    webhook = webhooks.add_webhook(name="Lamp", url=receiver.url, by=shop.lead, at=NOON)
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    outbox.drain()
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    [notice] = notices.announce(flag, Happening.RAISED, at=NOON)
    OutboxItem.objects.filter(pk=notice.item_id).update(
        dead_at=timezone.now(), attempts=outbox.TRIES_TO_DELIVER
    )
    Notice.objects.update(tries=8, last_answer="Answered 503: <b>Bulb gone</b>")
    where = f"/shop/webhooks/{webhook.pk}"
    for page in (lead.get(where).text, lead.get("/shop/notices").text):
        assert "given up" in page
        assert "8 tries" in page
        assert "Answered 503: &lt;b&gt;Bulb gone" in page
    assert "not reached" in lead.get("/shop/notices").text
    today = lead.get("/").text
    assert "Somebody was not told" in today
    assert "The charts are behind" not in today
    assert "Somebody was not told" not in bench.get("/").text
    again = f"/shop/notices/{notice.pk}/again"
    assert "tried again" in lead.post(again, follow=True).text
    outbox.drain()
    assert len(receiver.got) == 1
    assert "Send it again" not in lead.get(where).text
    assert "was not given up" in lead.post(again, follow=True).text
    assert "Somebody was not told" not in lead.get("/").text


def test_what_was_given_up_stays_in_sight_until_its_webhook_is_switched_off(
    shop: Shop, lead: Client
) -> None:
    first, second, *_ = (
        webhooks.add_webhook(name=f"Lamp {n}", url="http://lamp.example/", by=shop.lead, at=NOON)
        for n in range(LISTED + 2)
    )
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    given_up = notices.announce(flag, Happening.RAISED, at=NOON)[:2]
    OutboxItem.objects.filter(notice__in=given_up).update(dead_at=timezone.now())
    for one in given_up:
        assert f"/shop/notices/{one.pk}/again" in lead.get("/shop/notices").text
    webhooks.retire_webhook(webhook=first, by=shop.lead, at=NOON, why="Sold")
    webhooks.change_webhook(
        webhook=second, is_active=False, expected_version=1, by=shop.lead, at=NOON
    )
    assert "Somebody was not told" not in lead.get("/").text


def test_a_message_that_waits_for_its_receiver_is_no_work_left_lying(
    shop: Shop, client: Client, receiver: Receiver
) -> None:
    webhooks.add_webhook(name="Lamp", url=receiver.url, by=shop.lead, at=NOON)
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    OutboxItem.objects.all().delete()
    outbox.beat("relay")
    notices.announce(
        make_flag(round_, kind="fixture", key=shop.fixture.pk),
        Happening.RAISED,
        at=timezone.now() - timedelta(hours=1),
    )
    assert client.get("/health").json()["status"] == "ok"
    outbox.ask("qc.learn", at=timezone.now() - timedelta(hours=1), round_id=round_.pk)
    assert client.get("/health").status_code == 503


def test_the_pages_take_as_many_queries_however_much_was_sent(
    shop: Shop, lead: Client, receiver: Receiver
) -> None:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)

    def more(count: int) -> int:
        for _ in range(count):
            name = f"Lamp {Webhook.objects.count()}"
            webhooks.add_webhook(name=name, url=receiver.url, by=shop.lead, at=NOON)
        notices.announce(flag, Happening.RAISED, at=NOON)
        return queries_of(lead, "/shop/notices")

    assert more(3) == more(12)
