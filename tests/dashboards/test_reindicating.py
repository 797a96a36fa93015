"""Reporting that a fixture was re-indicated, and confirming it, on the pages."""

from __future__ import annotations

from django.test import Client

from qc.models import Flag, FlagState, State
from tests.dashboards.pages import send
from tests.flagged import make_flag
from tests.make import Shop, make_job


def test_an_operator_reports_from_the_jobs_warning_and_a_lead_confirms_on_today(
    shop: Shop, bench: Client, lead: Client
) -> None:
    job = make_job(shop, state=State.SET_UP)
    flag = make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    where = f"/fixtures/{shop.fixture.pk}/re-indicated"
    for page in (f"/jobs/{job.pk}/touch-off", f"/flags/{flag.pk}"):
        assert f'href="{where}"' in bench.get(page).text
    done = send(
        bench,
        where,
        {"as_found_mm": "0.08", "as_left_mm": "0.005", "note": "A burr"},
        holding="as_left_mm",
    )
    assert done.status_code == 302
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
    assert f'action="/fixtures/reports/{reported.pk}/confirm"' in today
    page = lead.post(f"/fixtures/reports/{reported.pk}/confirm", follow=True).text
    assert "It is recorded as a service of when it was done." in page
    assert "A burr. Done by Oskar" in page
    assert Flag.objects.get().state == FlagState.CLEARED
    assert "as Oskar reports" not in lead.get("/").text


def test_one_over_the_limit_says_what_to_do_and_may_be_set_aside(
    shop: Shop, bench: Client, lead: Client
) -> None:
    job = make_job(shop, state=State.SET_UP)
    make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    where = f"/fixtures/{shop.fixture.pk}/re-indicated"
    send(bench, where, {"as_left_mm": "0.05"}, holding="as_left_mm")
    reported = shop.fixture.reindications.get()
    page = lead.post(f"/fixtures/reports/{reported.pk}/confirm", follow=True).text
    assert "As left, 0.050\N{NO-BREAK SPACE}mm is over the shop&#x27;s limit" in page
    assert "Confirm it" in page
    page = lead.post(f"/fixtures/reports/{reported.pk}/set-aside", follow=True).text
    assert "The report is set aside." in page
    assert "Confirm it" not in page
    assert Flag.objects.get().is_open
