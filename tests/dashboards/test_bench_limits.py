"""The pages that ask about a target, put it right, and drop a job opened by mistake."""

from __future__ import annotations

from django.test import Client

from qc.models import Job, State
from tests.dashboards.pages import send, send_again
from tests.make import Shop, make_job


def words_of(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("&#x27;", "'")


def test_a_slip_in_a_new_jobs_limits_is_asked_about_and_taken_when_confirmed(
    bench: Client, shop: Shop
) -> None:
    typed = {"family": shop.family.pk, "serial": "K-77", "target": "5.0", "tol_plus": "0.5"}
    asked = send(bench, "/jobs/new", typed, holding="serial")
    assert asked.status_code == 422
    words = words_of(asked.text)
    assert "target 5.0 mm, tolerance above 0.5 mm" in words
    assert "(0.500 mm, +0.050 mm −0.050 mm)" in words
    assert "Is it right?" in words
    assert not Job.objects.exists()
    taken = send_again(bench, asked, {"confirm": "on"}, holding="serial")
    assert taken.status_code == 302
    assert str(Job.objects.get().target_mm) == "5.000000"


def test_target_and_tolerance_are_put_right_from_the_job_page(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    address = f"/jobs/{job.pk}/limits"
    assert f'href="{address}"' in bench.get(f"/jobs/{job.pk}").text
    silent = send(bench, address, {"target": "0.55"})
    assert silent.status_code == 422
    saved = send_again(bench, silent, {"why": "Sheet misread"})
    assert saved.headers["Location"] == f"/jobs/{job.pk}"
    page = words_of(bench.get(f"/jobs/{job.pk}").text)
    assert "Target 0.550 mm, tolerance +0.050 mm" in page
    assert "0.550 mm (was 0.500 mm)" in page
    assert "Reason: Sheet misread" in page
    assert "the target changed after this plan was made" in bench.get(f"/jobs/{job.pk}/plan").text


def test_a_job_is_dropped_from_its_page_and_says_why(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.FOUND)
    assert f'href="/jobs/{job.pk}/drop"' in bench.get(f"/jobs/{job.pk}").text
    assert send(bench, f"/jobs/{job.pk}/drop", {"why": ""}).status_code == 422
    send(bench, f"/jobs/{job.pk}/drop", {"why": "Opened twice"})
    page = bench.get(f"/jobs/{job.pk}").text
    assert "Dropped" in page
    assert "Reason: Opened twice" in page
    assert "/drop" not in page
    assert f"/jobs/{job.pk}" not in bench.get("/jobs?state=at_work").text


def test_after_a_cut_neither_is_offered(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    page = bench.get(f"/jobs/{job.pk}").text
    assert "/drop" not in page
    assert "/limits" not in page
    refused = send(bench, f"/jobs/{job.pk}/drop", {"why": "Opened twice"})
    assert refused.status_code == 422
    assert "past its first cut" in refused.text
