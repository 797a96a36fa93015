"""The verdict page, and who may release, cut again, concede or scrap."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from qc.models import Job, ReadingSet, State
from tests.dashboards.pages import SignedIn, form_on, send, send_again
from tests.make import Shop, make_job

HIGH = {0: "0.60", 90: "0.62", 180: "0.60", 270: "0.59"}
LOW = {0: "0.36", 90: "0.36", 180: "0.36", 270: "0.36"}


@pytest.fixture
def measured(shop: Shop) -> Job:
    return make_job(shop, state=State.MEASURED)


def test_a_lead_releases_an_accepted_job(signed_in: SignedIn, measured: Job) -> None:
    answer = send(signed_in("lead"), f"/jobs/{measured.pk}/verdict", {"decision": "release"})
    assert answer.headers["Location"] == f"/jobs/{measured.pk}"
    measured.refresh_from_db()
    assert (measured.state, measured.closed_by.username) == (State.RELEASED, "lena")


def test_an_operator_is_shown_who_can_release_and_may_not(bench: Client, measured: Job) -> None:
    address = f"/jobs/{measured.pk}/verdict"
    text = bench.get(address).text
    assert "a lead&#x27;s to decide: Lena" in text or "a lead's to decide: Lena" in text
    assert 'value="release"' not in text
    for decision in ("release", "concede", "scrap"):
        answer = send(bench, address, {"decision": decision, "why": "I want to"})
        assert answer.status_code == 403
        assert "Ask a lead" in answer.text
        assert form_on(answer.text, "version")["why"] == "I want to"
    measured.refresh_from_db()
    assert measured.state == State.MEASURED


def test_a_viewer_sees_the_verdict_and_decides_nothing(signed_in: SignedIn, measured: Job) -> None:
    viewer = signed_in("viewer")
    address = f"/jobs/{measured.pk}/verdict"
    assert "accept" in viewer.get(address).text
    sent = {"version": measured.version, "seen": 0, "decision": "cut_again", "why": "x"}
    assert viewer.post(address, sent).status_code == 403


def test_an_operator_cuts_again_when_the_verdict_asks_for_it(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED, achieved=HIGH)
    text = bench.get(f"/jobs/{job.pk}/verdict").text
    assert '<button class="button main" type="submit" name="decision" value="cut_again">' in text
    assert "would bring the height to 0.500\N{NO-BREAK SPACE}mm" in text
    answer = send(bench, f"/jobs/{job.pk}/verdict", {"decision": "cut_again"})
    assert answer.headers["Location"] == f"/jobs/{job.pk}/plan"
    assert job.rounds.count() == 2
    assert "the achieved readings of the round before" in bench.get(f"/jobs/{job.pk}").text


@pytest.mark.parametrize(
    ("decision", "state"), [("concede", State.CONCEDED), ("scrap", State.SCRAPPED)]
)
def test_concession_and_scrap_need_a_reason(
    signed_in: SignedIn, shop: Shop, decision: str, state: State
) -> None:
    job = make_job(shop, state=State.MEASURED, achieved=LOW)
    lead = signed_in("lead")
    silent = send(lead, f"/jobs/{job.pk}/verdict", {"decision": decision})
    assert silent.status_code == 422
    assert 'id="id_why_error"' in silent.text
    answer = send_again(lead, silent, {"decision": decision, "why": "Customer agreed"})
    assert answer.status_code == 302
    job.refresh_from_db()
    assert (job.state, job.closing_reason) == (state, "Customer agreed")
    assert "Customer agreed" in lead.get(f"/jobs/{job.pk}").text


def test_a_rejected_job_is_not_released_without_a_concession(
    signed_in: SignedIn, shop: Shop
) -> None:
    job = make_job(shop, state=State.MEASURED, achieved=LOW)
    assert 'value="release"' not in signed_in("lead").get(f"/jobs/{job.pk}/verdict").text
    answer = send(signed_in("lead"), f"/jobs/{job.pk}/verdict", {"decision": "release"})
    assert answer.status_code == 422
    assert "verdict is reject: a concession needs a reason" in answer.text
    job.refresh_from_db()
    assert job.state == State.MEASURED


def test_cutting_again_against_the_verdict_needs_a_reason(bench: Client, measured: Job) -> None:
    silent = send(bench, f"/jobs/{measured.pk}/verdict", {"decision": "cut_again"})
    assert silent.status_code == 422
    assert "against the verdict needs a reason" in silent.text


def reason_label(page: str) -> str:
    found = re.search(r'for="id_why">(.*?)</label>', page)
    assert found
    return re.sub(r"<.*?>", "", found[1])


def test_a_cut_that_an_undecided_verdict_calls_a_help_needs_no_reason(
    bench: Client, signed_in: SignedIn, shop: Shop
) -> None:
    """Height 0.545 by a limit of 0.550: too near to tell, and 0.045 mm is left to the target."""
    job, page = undecided(shop, bench, dict.fromkeys((0, 90, 180, 270), "0.545"))
    assert "Yes. A cut of 0.045" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert reason_label(page) == "Reason (optional)"
    told_a_lead = signed_in("lead").get(f"/jobs/{job.pk}/verdict").text
    assert reason_label(told_a_lead) == "Reason (needed for a concession or scrap)"
    answer = send(bench, f"/jobs/{job.pk}/verdict", {"decision": "cut_again"})
    assert answer.headers["Location"] == f"/jobs/{job.pk}/plan"
    assert job.rounds.count() == 2


def test_the_reason_is_marked_as_needed_before_it_is_sent(
    bench: Client, signed_in: SignedIn, shop: Shop, measured: Job
) -> None:
    assert reason_label(bench.get(f"/jobs/{measured.pk}/verdict").text) == "Reason (needed)"
    accepted = signed_in("lead").get(f"/jobs/{measured.pk}/verdict").text
    assert reason_label(accepted) == "Reason (needed for all but a plain release)"
    low = make_job(shop, state=State.MEASURED, achieved=LOW, serial="L-1")
    for person in ("lead", "operator"):
        page = signed_in(person).get(f"/jobs/{low.pk}/verdict").text
        assert reason_label(page) == "Reason (needed)"


def test_before_it_is_measured_a_job_can_only_be_scrapped(signed_in: SignedIn, shop: Shop) -> None:
    job = make_job(shop, state=State.FOUND)
    text = signed_in("lead").get(f"/jobs/{job.pk}/verdict").text
    assert "No verdict yet" in text
    assert 'value="scrap"' in text
    assert 'value="release"' not in text


def test_no_button_means_no_decision(bench: Client, measured: Job) -> None:
    answer = send(bench, f"/jobs/{measured.pk}/verdict", {"why": "Thinking"})
    assert answer.status_code == 422
    assert form_on(answer.text, "version")["why"] == "Thinking"


def test_a_closed_job_shows_who_closed_it_and_no_form(signed_in: SignedIn, shop: Shop) -> None:
    job = make_job(shop, state=State.RELEASED)
    text = signed_in("lead").get(f"/jobs/{job.pk}/verdict").text
    assert "What becomes of it" not in text
    assert "Lena, " in text


def undecided(shop: Shop, bench: Client, achieved: dict[int, str]) -> tuple[Job, str]:
    """The job, and the page of its verdict."""
    job = make_job(shop, state=State.CUT, serial="U-1")
    typed = {f"at_{at}": gap for at, gap in achieved.items()}
    why = {} if len(achieved) == 4 else {"why_fewer": "Plug hole in the way"}
    send(bench, f"/jobs/{job.pk}/achieved", {**typed, **why, "gauge": shop.gauge.pk})
    page = bench.get(f"/jobs/{job.pk}/verdict").text
    assert "undecided</span>" in page
    return job, page


def adding(job: Job) -> str:
    return f"/jobs/{job.pk}/sets/{ReadingSet.objects.get(job=job, kind='achieved').pk}/add"


def test_an_undecided_verdict_asks_for_the_positions_that_show_evenness(
    bench: Client, signed_in: SignedIn, shop: Shop
) -> None:
    job, page = undecided(shop, bench, {0: "0.50", 180: "0.50"})
    assert "<b>Readings at 90° and 270°.</b>" in page
    assert f'href="{adding(job)}">Add those readings</a>' in page
    assert "not shown by these positions" in bench.get(f"/jobs/{job.pk}").text
    assert adding(job) not in signed_in("viewer").get(f"/jobs/{job.pk}/verdict").text
    send(bench, adding(job), {"at_90": "0.50", "at_270": "0.50"})
    settled = bench.get(f"/jobs/{job.pk}/verdict").text
    assert "What would settle it" not in settled
    assert "accept</span>" in settled


def test_an_undecided_verdict_says_how_many_pieces_would_settle_it(
    bench: Client, shop: Shop
) -> None:
    """Side to side 0.046 of 0.060 at most: worked out in tests/numerics/test_settling.py."""
    near = {0: "0.523", 90: "0.50", 180: "0.477", 270: "0.50"}
    job, page = undecided(shop, bench, near)
    assert "<b>4 pieces of solder at each position</b>, if they read as these do" in page
    assert "there is 1 now" in page
    assert f'href="{adding(job)}">Add pieces</a>' in page
    for _ in range(3):
        send(bench, adding(job), {f"at_{at}": gap for at, gap in near.items()})
    assert "accept</span>" in bench.get(f"/jobs/{job.pk}/verdict").text


def test_where_the_gauge_is_in_the_way_another_is_asked_for(bench: Client, shop: Shop) -> None:
    shop.gauge.step_value, shop.gauge.step_mm = "0.02", "0.02"
    shop.gauge.save()
    near = {0: "0.523", 90: "0.50", 180: "0.477", 270: "0.50"}
    job, page = undecided(shop, bench, near)
    assert "<b>A finer gauge.</b>" in page
    assert f'href="/jobs/{job.pk}/achieved">Measure again with another gauge</a>' in page


def test_where_no_reading_settles_it_people_do(bench: Client, shop: Shop) -> None:
    """Side to side 0.060 lies on its limit of 0.060, whatever the doubt."""
    job, page = undecided(shop, bench, {0: "0.53", 90: "0.50", 180: "0.47", 270: "0.50"})
    assert "<b>No more readings would</b>, if they read as these do. A lead decides" in page
    assert adding(job) not in page.split("What would settle it")[1].split("</section>")[0]


def test_a_decided_or_closed_job_asks_for_no_readings(
    bench: Client, signed_in: SignedIn, shop: Shop, measured: Job
) -> None:
    assert "What would settle it" not in bench.get(f"/jobs/{measured.pk}/verdict").text
    job, _ = undecided(shop, bench, {0: "0.50", 180: "0.50"})
    send(signed_in("lead"), f"/jobs/{job.pk}/verdict", {"decision": "scrap", "why": "Cracked"})
    assert "What would settle it" not in bench.get(f"/jobs/{job.pk}/verdict").text
