"""The pages of a fixture that moved, and what people do about its flag."""

from __future__ import annotations

from copy import deepcopy
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from qc.models import DriftChannel, Flag, FlagState, Person, ServiceEvent, ServiceKind
from qc.operations import resources
from tests.cutting import cut_job, cut_some
from tests.dashboards.pages import form_on
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_shop

LATER = NOON + timedelta(days=60)


@pytest.fixture(scope="module")
def knocked(made_once):
    """Plug A, knocked by 0.080 mm toward 200 degrees from LATER on."""

    def make() -> tuple[Shop, Flag]:
        shop = make_shop()
        cut_some(shop, 8)
        cut_some(shop, 5, begin=LATER, side_to_side=0.08, wide_toward=200)
        return shop, Flag.objects.get()

    return made_once(make)


@pytest.fixture
def shop(db: None, knocked: tuple[Shop, Flag]) -> Shop:
    return deepcopy(knocked[0])


@pytest.fixture
def flag(db: None, knocked: tuple[Shop, Flag]) -> Flag:
    return deepcopy(knocked[1])


def test_the_list_says_where_each_stands(shop: Shop, bench: Client, flag: Flag) -> None:
    resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    page = bench.get("/fixtures").text
    assert page.index("flagged") < page.index("Plug B") < page.index("baseline still thin")


def test_the_page_of_a_moved_fixture_says_when_how_far_and_where(bench: Client, flag: Flag) -> None:
    page = bench.get(f"/fixtures/{flag.fixture_id}").text
    first = flag.moved_at.job_id
    assert "Plug A seems to have moved" in page
    link = f'<a href="/jobs/{first}">Job {first}</a>'
    assert f"{link} is the likeliest first job after the move" in page
    assert f"wide toward {flag.wide_toward_deg:.0f}° on its own clock." in page
    assert "% sure that it is this one" in page
    assert f'data-figure-url="/fixtures/{flag.fixture_id}/clock.json"' in page
    assert "Record what was done" not in page
    assert "I am looking into it" in page


def test_a_viewer_reads_and_is_offered_nothing_to_do(signed_in, flag: Flag) -> None:
    page = signed_in("viewer").get(f"/fixtures/{flag.fixture_id}").text
    assert "seems to have moved" in page
    assert "I am looking into it" not in page
    assert "Close with what was found" not in page


def test_the_drawings_hold_the_numbers_of_the_tables(bench: Client, flag: Flag) -> None:
    where = f"/fixtures/{flag.fixture_id}"
    clock = bench.get(f"{where}/clock.json").json()
    words = [text for trace in clock["data"] for text in trace.get("hovertext") or ()]
    assert sum(text.startswith("job ") for text in words) == 13
    lanes = bench.get(f"{where}/lanes.json").json()
    titles = [note["text"] for note in lanes["layout"]["annotations"]]
    assert titles == [
        "Height error, mm",
        "Side to side at 20 mm radius, mm",
        "Tilt chart, standard deviations",
    ]
    page = bench.get(where).text
    for text in words:
        if text.startswith("job "):
            job, size = text.split(",")[0], text.split("<br>")[1].split("\N{NO-BREAK SPACE}")[0]
            assert f'<th scope="row">{job}</th>' in page
            assert f"<td>{size}</td>" in page


def test_the_drawings_speak_the_viewers_unit(shop: Shop, bench: Client, flag: Flag) -> None:
    shop.operator.person.unit = "in"
    shop.operator.person.save()
    lanes = bench.get(f"/fixtures/{flag.fixture_id}/lanes.json").json()
    assert lanes["layout"]["annotations"][0]["text"] == "Height error, in"


def test_an_operator_looks_into_a_flag_once(bench: Client, flag: Flag) -> None:
    answer = bench.post(f"/flags/{flag.pk}/look-into", follow=True)
    assert "The others see that it is being looked into." in answer.text
    assert Flag.objects.get().state == FlagState.LOOKED_INTO
    again = bench.post(f"/flags/{flag.pk}/look-into", follow=True)
    assert "not waiting to be looked into" in again.text


def test_looking_into_a_flag_is_by_post_alone(bench: Client, flag: Flag) -> None:
    assert bench.get(f"/flags/{flag.pk}/look-into").status_code == 405


def test_a_flag_is_closed_with_what_was_found_and_a_reason(lead: Client, flag: Flag) -> None:
    where = f"/flags/{flag.pk}/close"
    bare = lead.post(where, {"state": "none_found", "why": ""})
    assert bare.status_code == 422
    assert "needs a reason" in bare.text
    assert 'value="none_found"' in bare.text
    assert "checked" in bare.text
    done = lead.post(where, {"state": "cause_found", "why": "A chip under the plug"}, follow=True)
    assert "A chip under the plug" in done.text
    assert Flag.objects.get().state == FlagState.CAUSE_FOUND
    again = lead.post(where, {"state": "cause_found", "why": "Twice"})
    assert "closed already" in again.text
    assert "Twice" in again.text


def test_a_service_clears_the_flag_and_keeps_as_found_and_as_left(lead: Client, flag: Flag) -> None:
    where = f"/shop/fixtures/{flag.fixture_id}/service"
    sent = {"kind": "re_indicated", "as_found_mm": "5 thou", "as_left_mm": "0.008", "note": "Chip"}
    done = lead.post(where, sent, follow=True)
    assert done.redirect_chain == [(f"/fixtures/{flag.fixture_id}", 302)]
    assert "As found 0.127\N{NO-BREAK SPACE}mm, as left 0.008\N{NO-BREAK SPACE}mm." in done.text
    assert Flag.objects.get().state == FlagState.CLEARED
    assert str(ServiceEvent.objects.get().as_found_mm) == "0.127000"


def test_a_fixture_left_over_its_limit_keeps_its_flag_until_a_reason_is_given(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    """The limit is 0.0127, half a thou: 2 thou is over it, and is told in thou to who thinks so."""
    Person.objects.filter(pk=shop.lead.person.pk).update(unit="thou")
    where = f"/shop/fixtures/{flag.fixture_id}/service"
    sent = {"kind": "re_indicated", "as_left_mm": "2"}
    asked = lead.post(where, sent)
    assert asked.status_code == 422
    assert "As left, 2.0\N{NO-BREAK SPACE}thou is over the shop&#x27;s limit of 0.5" in asked.text
    typed = form_on(asked.text, "as_left_mm")
    assert typed["as_left_mm"] == "2"
    silent = lead.post(where, {**typed, **sent, "confirm": "on"})
    assert silent.status_code == 422
    assert "needs a reason" in silent.text
    assert not ServiceEvent.objects.exists()
    assert Flag.objects.get().state == FlagState.RAISED
    done = lead.post(where, {**sent, "confirm": "on", "note": "Plug goes to be ground"})
    assert done.status_code == 302
    assert Flag.objects.get().state == FlagState.CLEARED
    assert str(ServiceEvent.objects.get().as_left_mm) == "0.050800"


def test_the_flags_page_says_what_to_do_and_keeps_what_was_decided(
    lead: Client, flag: Flag
) -> None:
    where = f"/flags/{flag.pk}"
    page = lead.get(where).text
    assert "The next job on it misses its evenness limit" in page
    assert "Re-indicating takes 25 minutes and pays after" in page
    assert "Not answered yet." in page
    weighed = lead.get(f"{where}/decide").text
    assert "The next job on it misses its evenness limit" in weighed
    assert "worth of misses to be expected in its next 20 jobs, beside 25 minutes" in weighed
    assert "Why, if it is put off</label>" in weighed
    bare = lead.post(f"{where}/decide", {"answer": "put_off", "why": "", "version": 1})
    assert bare.status_code == 422
    assert "needs a reason" in bare.text
    done = lead.post(
        f"{where}/decide",
        {"answer": "put_off", "why": "Last of a batch", "version": 1},
        follow=True,
    )
    assert "Last of a batch" in done.text
    lead.post(f"{where}/close", {"state": "cause_found", "why": "A chip under the plug"})
    listed = lead.get("/flags").text
    assert "1 of 1 flag that was looked into had a cause." in listed
    assert "A chip under the plug" in listed


def test_a_shift_that_nothing_explains_is_told_in_place_of_a_forecast(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    """All that was suspected is in order, and the watch forgets the move: it takes again the jobs
    that it took from the knock to the flag, one fewer after each. A service ends the question."""
    where, risks = f"/fixtures/{flag.fixture_id}", "The next job on it misses"
    took = flag.raised_by.job_id - flag.moved_at.job_id + 1
    assert took > 1
    assert risks in lead.get(where).text
    lead.post(f"/flags/{flag.pk}/close", {"state": "none_found", "why": "No burr, no dirt"})
    closed = Flag.objects.get()
    assert closed.state == FlagState.NONE_FOUND
    page = lead.get(where).text
    assert ">1 May 2026</time> is not explained.</b>" in page
    assert f'<a href="/flags/{flag.pk}">the flag</a>' in page
    assert "Look for what the watch does not follow" in page
    assert f"about {took} more of its jobs would raise a flag again" in page
    assert risks not in page
    after = closed.closed_at + timedelta(days=1)
    cut_job(shop, "after", at=after, learn=False)
    page = lead.get(where).text
    assert f"about {took - 1} more of its jobs" in page
    assert "Too early to say in 1 job" in page
    assert "no sign of a move" not in page.lower()
    resources.record_service(
        subject=shop.fixture,
        kind=ServiceKind.REINDICATED,
        as_left_mm=Decimal("0.005"),
        by=shop.lead,
        at=after + timedelta(days=1),
    )
    page = lead.get(where).text
    assert "is not explained" not in page
    assert risks in page


def test_it_is_told_again_once_as_many_jobs_came_as_it_took(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    lead.post(f"/flags/{flag.pk}/close", {"state": "none_found", "why": "No burr, no dirt"})
    after = Flag.objects.get().closed_at + timedelta(days=1)
    cut_some(shop, 5, begin=after)
    page = lead.get(f"/fixtures/{flag.fixture_id}").text
    assert "is not explained" not in page
    assert "The next job on it misses" in page


def test_each_suspect_of_a_set_says_so_and_one_left_in_question_does_not(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    """The edge first: its lathe is still in question. The gauge was never suspected."""
    edge, lathe = ("edge", shop.edge.pk), ("lathe", shop.lathe.pk)
    on_edge = make_flag(
        flag.raised_by,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        size=0.03,
        suspects=[(*edge, 0.6), (*lathe, 0.38)],
    )
    pages = [f"/shop/edges/{shop.edge.pk}", f"/shop/lathes/{shop.lathe.pk}"]
    told = {"state": "none_found", "why": "Looked", "looked_at": [f"edge {shop.edge.pk}"]}
    lead.post(f"/flags/{on_edge.pk}/close", told)
    assert Flag.objects.get(pk=on_edge.pk).is_open
    assert ["is not explained" in lead.get(one).text for one in pages] == [False, False]
    lead.post(f"/flags/{on_edge.pk}/close", {**told, "looked_at": [f"lathe {shop.lathe.pk}"]})
    assert Flag.objects.get(pk=on_edge.pk).state == FlagState.NONE_FOUND
    assert ["is not explained" in lead.get(one).text for one in pages] == [True, True]
    assert "is not explained" not in lead.get(f"/shop/gauges/{shop.gauge.pk}").text
