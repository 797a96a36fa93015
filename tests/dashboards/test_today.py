"""The first page: what needs someone, for each role, in an empty shop and in a busy one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import partial

import pytest
from django.test import Client
from django.utils import timezone

from qc.actor import Actor
from qc.models import (
    Answer,
    Channel,
    DriftChannel,
    Flag,
    Gauge,
    Heartbeat,
    OutboxItem,
    Role,
    Rule,
    Signal,
    State,
)
from qc.operations import decisions, resources
from qc.units import mm
from tests.cutting import cut_job, cut_some
from tests.dashboards.counting import queries_of
from tests.flagged import make_flag
from tests.make import Shop, make_job, make_person

SignedIn = Callable[[str], Client]
AGO = timedelta(days=60)


@pytest.mark.django_db
def test_an_empty_shop_shows_its_lead_the_way_to_a_first_job() -> None:
    lead = Actor(make_person("lena", Role.LEAD))
    client = Client()
    client.force_login(lead.person)
    page = client.get("/").text
    for address in ("lathes/new", "edges/new", "gauges/new", "fixtures/new", "families/new"):
        assert f'href="/shop/{address}"' in page
    assert 'href="/jobs/new"' in page
    resources.register_lathe(name="North lathe", by=lead, at=timezone.now())
    assert 'href="/shop/lathes/new"' not in client.get("/").text


def test_a_quiet_shop_says_so(shop: Shop, bench: Client) -> None:
    make_job(shop)
    Gauge.objects.update(calibration_due=None)
    page = bench.get("/").text
    assert "No flag, no fresh signal, no verdict waiting and no gauge due." in page
    assert "Next: take the as-found readings" in page


def test_a_flag_is_told_in_the_viewers_unit(shop: Shop, bench: Client) -> None:
    begin = timezone.now() - AGO
    cut_some(shop, 8, begin=begin)
    cut_some(shop, 5, begin=begin + timedelta(days=30), side_to_side=0.08, wide_toward=200)
    flag = Flag.objects.get()
    size = flag.size
    page = bench.get("/").text
    assert "Plug A seems to have moved" in page
    assert f"{size:.3f}\N{NO-BREAK SPACE}mm" in page
    assert f"wide toward {flag.wide_toward_deg:.0f}°" in page
    person = shop.operator.person
    person.unit = "thou"
    person.save()
    assert f"{size / 0.0254:.1f}\N{NO-BREAK SPACE}thou" in bench.get("/").text


def test_a_flag_leads_to_its_page_and_says_what_was_decided(
    shop: Shop, bench: Client, lead: Client
) -> None:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    page = lead.get("/").text
    assert f'<a class="button main" href="/flags/{flag.pk}">See the flag</a>' in page
    assert "Recommended: check Plug A first. Not decided yet." in page
    decide = f'href="/flags/{flag.pk}/decide"'
    assert decide in page
    assert decide not in bench.get("/").text
    now, today = timezone.now(), timezone.localdate()
    put_off = partial(
        decisions.answer, flag=flag, answer=Answer.PUT_OFF, by=shop.lead, why="Race week"
    )
    put_off(at=now)
    assert "Put off by Lena: Race week." in bench.get("/").text
    ahead = today + timedelta(days=3)
    put_off(at=now, until=ahead)
    told = bench.get("/").text
    assert f"Put off by Lena until {ahead.day} {ahead:%b %Y}: Race week." in told
    assert "decide again" not in told
    put_off(at=now - timedelta(days=5), until=today)
    assert "Race week. That day has come: decide again." in bench.get("/").text
    decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=shop.lead, at=now)
    told = lead.get("/").text
    assert "Accepted by Lena: check Plug A first." in told
    assert decide not in told


@pytest.mark.parametrize("role", ["viewer", "operator", "lead"])
def test_everybody_has_the_flags_among_the_main_links(signed_in: SignedIn, role: str) -> None:
    client = signed_in(role)
    assert '<li><a href="/flags">Flags</a></li>' in client.get("/").text
    page = client.get("/flags").text
    assert '<li><a href="/flags" aria-current="page">Flags</a></li>' in page
    assert 'href="/fixtures" aria-current="page"' not in page


def test_the_flags_that_everybody_may_open_are_those_they_may_know_of(
    shop: Shop, signed_in: SignedIn
) -> None:
    """One on a fixture is for all, one on the operator's technique for the operator and leads."""
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    make_flag(round_, kind="fixture", key=shop.fixture.pk)
    make_flag(round_, kind="person", key=shop.operator.person.pk, channel=DriftChannel.HEIGHT)
    listed = {
        role: (page.count('<a href="/flags/'), "Oskar" in page.split("<main")[1])
        for role in ("viewer", "operator", "lead")
        if (page := signed_in(role).get("/flags").text)
    }
    assert listed == {"viewer": (1, False), "operator": (2, True), "lead": (2, True)}


def test_a_waiting_verdict_says_what_comes_next(shop: Shop, bench: Client, lead: Client) -> None:
    make_job(shop, state=State.MEASURED)
    assert "Next: release it." in lead.get("/").text
    assert "Next: release it (a lead decides)." in bench.get("/").text


def test_a_signal_is_told_in_plain_words(shop: Shop, bench: Client) -> None:
    job = cut_job(shop, "wide", at=timezone.now(), learn=False)
    Signal.objects.create(
        channel=Channel.HEIGHT_ERROR,
        rule=Rule.INDIVIDUALS,
        round=job.rounds.get(),
        at=timezone.now(),
        value_mm=0.04,
        limit_mm=0.03,
    )
    page = bench.get("/").text
    assert "look at edge, lathe, gauge or hands" in page
    assert "One job outside the limits. On the chart of the whole shop." in page


def test_gauges_due_are_marked_by_a_word(shop: Shop, bench: Client) -> None:
    resources.register_gauge(
        name="Old one",
        step=mm("0.01"),
        calibration_due=timezone.localdate() - timedelta(days=1),
        by=shop.lead,
        at=timezone.now(),
    )
    page = bench.get("/").text
    assert "Old one" in page
    assert "overdue" in page


def test_only_leads_hear_of_dead_work_and_a_silent_worker(
    shop: Shop, bench: Client, lead: Client
) -> None:
    hour_ago = timezone.now() - timedelta(hours=1)
    OutboxItem.objects.create(
        task="qc.learn", asked_at=hour_ago, dead_at=hour_ago, last_error="<b>no such round</b>"
    )
    Heartbeat.objects.create(worker="outbox thread", at=hour_ago)
    page = lead.get("/").text
    assert "The worker was last heard of" in page
    assert "Given up after many tries: 1 piece of work" in page
    assert "&lt;b&gt;no such round" in page
    assert "The charts are behind" not in bench.get("/").text


def test_thirty_of_everything_takes_as_many_queries_as_three(shop: Shop, lead: Client) -> None:
    def more(count: int, name: str) -> None:
        for n in range(count):
            make_job(shop, serial=f"{name}-{n}")
        job = cut_job(shop, f"{name}-cut", at=timezone.now(), learn=False)
        for rule in Rule:
            Signal.objects.create(
                channel=Channel.HEIGHT_ERROR,
                rule=rule,
                round=job.rounds.get(),
                at=timezone.now(),
                value_mm=0.04,
                limit_mm=0.03,
            )

    more(3, "few")
    few = queries_of(lead, "/")
    more(27, "many")
    assert queries_of(lead, "/") == few
