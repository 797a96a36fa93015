"""Reporting that a fixture was re-indicated, and confirming it, on the pages."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from qc.models import Flag, FlagCheck, FlagState, Job, Reindication, State
from qc.operations import reindicating, resources
from tests.dashboards.pages import SignedIn, form_on, send
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job

WAYS = ("correct", "take-back")


@pytest.fixture
def job(shop: Shop) -> Job:
    return make_job(shop, state=State.SET_UP)


def report(shop: Shop, job: Job | None = None, left: str = "0.005") -> Reindication:
    return reindicating.report(
        fixture=shop.fixture,
        as_left_mm=Decimal(left),
        note="A burr",
        job=job,
        by=shop.operator,
        at=timezone.now(),
    )


def test_an_operator_reports_from_the_jobs_warning_and_a_lead_confirms_on_today(
    shop: Shop, bench: Client, lead: Client, job: Job
) -> None:
    flag = make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    where = f"/fixtures/{shop.fixture.pk}/re-indicated"
    assert f'href="{where}"' in bench.get(f"/flags/{flag.pk}").text
    where = f"{where}?job={job.pk}"
    assert f'href="{where}"' in bench.get(f"/jobs/{job.pk}/touch-off").text
    done = send(
        bench,
        where,
        {"as_found_mm": "0.08", "as_left_mm": "0.005", "note": "A burr"},
        holding="as_left_mm",
    )
    assert (done.status_code, done.headers["Location"]) == (302, f"/jobs/{job.pk}")
    assert "A lead confirms it; until then its flag stays." in bench.get(where).text
    told = bench.get(f"/fixtures/{shop.fixture.pk}").text
    assert "Plug A was re-indicated, as Oskar reports." in told
    assert "found 0.080\N{NO-BREAK SPACE}mm, left 0.005\N{NO-BREAK SPACE}mm. A burr" in told
    assert "Confirm it" not in told
    again = bench.post(where, {"as_left_mm": "0.004"})
    assert (again.status_code, "reported already" in again.text) == (422, True)
    assert "was re-indicated, as Oskar reports" not in bench.get("/").text
    today = lead.get("/").text
    assert "Plug A was re-indicated, as Oskar reports." in today
    reported = shop.fixture.reindications.get()
    confirm = f"/fixtures/reports/{reported.pk}/confirm?back=/"
    assert f'href="{confirm}"' in today
    asked = lead.get(confirm).text
    at_job = f'<a href="/jobs/{job.pk}">job {job.pk}</a>'
    assert at_job in asked
    assert "Was a cause found?" in asked
    sent = lead.post(confirm, form_on(asked, "note"))
    assert (sent.status_code, sent.headers["Location"]) == (302, "/")
    page = lead.get("/").text
    assert "That Plug A was re-indicated is on record as a service by Oskar." in page
    assert f'<a href="/jobs/{job.pk}">Job {job.pk}</a>, where it was done.' in page
    assert "as Oskar reports" not in page
    assert Flag.objects.get().state == FlagState.CLEARED
    for place in (f"/fixtures/{shop.fixture.pk}", f"/flags/{flag.pk}"):
        told = lead.get(place).text
        assert f"by Oskar at {at_job}, confirmed by Lena, " in told
        assert "A burr" in told
    left = "As found 0.080\N{NO-BREAK SPACE}mm, as left 0.005\N{NO-BREAK SPACE}mm."
    assert left in lead.get(f"/flags/{flag.pk}").text
    assert "as confirmed by Lena: cleared by service." in lead.get(f"/flags/{flag.pk}").text
    assert "<dt>done by</dt><dd>Oskar</dd>" in lead.get(f"/shop/fixtures/{shop.fixture.pk}").text
    late = lead.get(confirm).text
    assert "Lena answered that report" in late
    again = lead.post(confirm, {"note": ""})
    assert (again.status_code, "answered that report already" in again.text) == (422, True)


def test_confirming_asks_the_question_of_a_service_only_where_a_flag_suspects_it(
    shop: Shop, lead: Client, job: Job
) -> None:
    reported = report(shop)
    confirm = f"/fixtures/reports/{reported.pk}/confirm"
    service = f"/shop/fixtures/{shop.fixture.pk}/service"
    assert "Was a cause found?" not in lead.get(confirm).text
    hands = ("person", shop.operator.person.pk)
    make_flag(
        job.rounds.get(),
        kind="person",
        key=hands[1],
        suspects=[(*hands, 0.6), ("fixture", shop.fixture.pk, 0.35)],
    )
    asked, of_service = lead.get(confirm).text, lead.get(service).text
    begin, end = 'aria-labelledby="asked-head"', "</section>"
    told = [one[one.index(begin) : one.index(end, one.index(begin))] for one in (asked, of_service)]
    assert told[0] == told[1]
    for words in ("Was a cause found?", "Yes, here: it had moved or worn", "No, it was in order"):
        assert (words in asked, words in of_service) == (True, True)
    for page in (asked, of_service):
        assert re.findall(r'class="optional">\(([^)]*)\)', page).count("optional") >= 2
        assert "FlagLine" not in page
    assert form_on(asked, "note")["found"] == form_on(of_service, "note")["found"] == "to_be_seen"
    bare = lead.post(confirm, {"found": "here", "note": ""})
    assert bare.status_code == 422
    assert bare.context["form"].errors.keys() == {"note"}
    lead.post(confirm, {"found": "in_order", "note": "It ran true"})
    assert Flag.objects.get().is_open
    assert (FlagCheck.objects.get().kind, FlagCheck.objects.get().note) == (
        "fixture",
        "It ran true",
    )


def test_a_cause_found_when_confirming_counts_in_the_score(
    shop: Shop, lead: Client, job: Job
) -> None:
    flag = make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    reported = report(shop)
    confirm = f"/fixtures/reports/{reported.pk}/confirm?back=/flags/{flag.pk}"
    assert f'href="{confirm}"' in lead.get(f"/flags/{flag.pk}").text
    assert f'confirm?back=/jobs/{job.pk}"' in lead.get(f"/jobs/{job.pk}").text
    typed = {**form_on(lead.get(confirm).text, "note"), "found": "here"}
    assert typed["note"] == "A burr"
    sent = lead.post(confirm, typed)
    assert sent.headers["Location"] == f"/flags/{flag.pk}"
    report(shop)  # after it, and no more to do with that flag
    page = lead.get(f"/flags/{flag.pk}").text
    assert "cause found, in Plug A." in page
    assert "as Oskar reports" not in page
    assert "1 of 1 flag that was looked into had a cause." in lead.get("/flags").text


@pytest.mark.parametrize("back", ["", "?back=//elsewhere.example/", "?back=https://a.example/"])
def test_no_address_leads_out_of_the_shop(shop: Shop, lead: Client, back: str) -> None:
    sent = lead.post(f"/fixtures/reports/{report(shop).pk}/confirm{back}", {"note": ""})
    assert sent.headers["Location"] == f"/fixtures/{shop.fixture.pk}"


def test_a_report_from_a_job_on_another_fixture_is_refused(
    shop: Shop, bench: Client, job: Job
) -> None:
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    sent = bench.post(f"/fixtures/{other.pk}/re-indicated?job={job.pk}", {"as_left_mm": "0"})
    assert (sent.status_code, "is not made on Plug B" in sent.text) == (422, True)
    assert bench.get(f"/fixtures/{other.pk}/re-indicated?job=x").status_code == 404


def test_one_over_the_limit_says_what_to_do_and_may_be_set_aside(
    shop: Shop, lead: Client, job: Job
) -> None:
    make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    reported = report(shop, job, left="0.05")
    confirm = f"/fixtures/reports/{reported.pk}/confirm"
    assert 'name="confirm"' not in lead.get(confirm).text
    sent = lead.post(confirm, {"found": "not_known", "note": "A burr"})
    assert sent.status_code == 422
    assert "As left, 0.050\N{NO-BREAK SPACE}mm is over the shop&#x27;s limit" in sent.text
    assert 'name="confirm"' in sent.text
    assert f'action="{confirm.replace("confirm", "set-aside")}?back=' in sent.text
    page = lead.post(f"/fixtures/reports/{reported.pk}/set-aside?back=/", follow=True)
    assert page.redirect_chain == [("/", 302)]
    assert "That Plug A was re-indicated is on record as set aside." in page.text
    assert f'<a href="/jobs/{job.pk}">Job {job.pk}</a>' in page.text
    assert "Confirm it" not in page.text
    assert Flag.objects.get().is_open


def test_a_slip_in_what_was_left_is_asked_about_before_it_is_taken(
    shop: Shop, bench: Client, lead: Client
) -> None:
    where = f"/fixtures/{shop.fixture.pk}/re-indicated"
    typed = {"as_found_mm": "0.08", "as_left_mm": "25 thou", "note": ""}
    assert 'name="confirm"' not in bench.get(where).text
    asked = bench.post(where, typed)
    assert asked.status_code == 422
    assert "0.635\N{NO-BREAK SPACE}mm is far over the shop&#x27;s limit of" in asked.text
    assert 'name="confirm"' in asked.text
    assert 'value="25 thou"' in asked.text
    assert not Reindication.objects.exists()
    assert bench.post(where, {**typed, "confirm": "on"}).status_code == 302
    service = f"/shop/fixtures/{shop.fixture.pk}/service"
    typed = {"kind": "dressed", "as_found_mm": "0.003", "as_left_mm": "0.004", "note": ""}
    asked = lead.post(service, typed)
    assert (asked.status_code, "is more than as found" in asked.text) == (422, True)
    assert "It is right: save it as typed" in asked.text
    assert "keeps its flag" not in asked.text
    assert lead.post(service, {**typed, "confirm": "on"}).status_code == 302


def test_who_reported_it_corrects_it_or_takes_it_back_where_it_is_told(
    shop: Shop, bench: Client, lead: Client, job: Job
) -> None:
    flag = make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    reported = report(shop)
    back = f"/flags/{flag.pk}"
    ways = [f"/fixtures/reports/{reported.pk}/{what}?back={back}" for what in WAYS]
    correct, take_back = ways
    page = bench.get(back).text
    for way in ways:
        assert way in page
        assert way not in lead.get(back).text
    asked = bench.get(correct).text
    assert 'value="0.005 mm"' in asked
    bad = bench.post(correct, {"as_left_mm": "0.7", "note": "A burr"})
    assert (bad.status_code, "far over the shop" in bad.text) == (422, True)
    done = send(bench, correct, {"as_left_mm": "0.007"}, holding="as_left_mm")
    assert done.headers["Location"] == back
    page = bench.get(back).text
    assert "left 0.007\N{NO-BREAK SPACE}mm. A burr" in page
    journal = lead.get(f"/shop/fixtures/{shop.fixture.pk}").text
    assert "Corrected a report of re-indicating" in journal
    gone = bench.post(take_back, follow=True)
    assert gone.redirect_chain == [(back, 302)]
    assert "That Plug A was re-indicated is on record as taken back." in gone.text
    assert "as Oskar reports" not in gone.text
    assert "Oskar answered that report" in bench.get(correct).text
    told = lead.get(f"/fixtures/reports/{reported.pk}/confirm").text
    assert ": taken back." in told


def test_every_fixtures_page_offers_an_operator_to_report_it(
    shop: Shop, signed_in: SignedIn, bench: Client, lead: Client, job: Job
) -> None:
    where = f"/fixtures/{shop.fixture.pk}"
    offer = f'<a class="button" href="{where}/re-indicated">'

    viewer = signed_in("viewer")

    def offered() -> list[bool]:
        return [offer in one.get(where).text for one in (bench, lead, viewer)]

    assert offered() == [True, False, False]
    flag = make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    assert offered() == [True, False, False]
    reported = report(shop)
    assert offered() == [False, False, False]
    for told in (lead, bench):
        assert "Plug A was re-indicated, as Oskar reports." in told.get(f"/flags/{flag.pk}").text
    reindicating.take_back(reported=reported, by=shop.operator, at=timezone.now())
    resources.retire(resource=shop.fixture, why="Cracked", by=shop.lead, at=timezone.now())
    assert offered() == [False, False, False]


def test_a_flags_page_tells_of_its_fixture_where_that_is_no_suspect_any_more(
    shop: Shop, lead: Client, job: Job
) -> None:
    flag = make_flag(
        job.rounds.get(),
        kind="fixture",
        key=shop.fixture.pk,
        suspects=[("lathe", shop.lathe.pk, 0.6), ("edge", shop.edge.pk, 0.35)],
    )
    reported = report(shop)
    confirm = f"/fixtures/reports/{reported.pk}/confirm?back=/flags/{flag.pk}"
    assert f'href="{confirm}"' in lead.get(f"/flags/{flag.pk}").text
