"""The plan through its page, refusals included."""

from __future__ import annotations

import pytest
from django.test import Client

from qc.models import Reading, State
from tests.dashboards.pages import form_on, send, send_again
from tests.make import Shop, make_job


def test_the_plan_shows_depth_passes_predicted_gaps_and_material(bench: Client, shop: Shop) -> None:
    """1.02 mean to 0.50 with the gasket unchanged: 0.52 off, as 0.235, 0.235 and 0.050; 1.01 less
    0.52 leaves 0.49 at 270 degrees; a 7.0 flange keeps 6.48."""
    job = make_job(shop, state=State.FOUND)
    answer = send(bench, f"/jobs/{job.pk}/plan", {})
    assert answer.headers["Location"] == f"/jobs/{job.pk}/plan"
    text = bench.get(f"/jobs/{job.pk}/plan").text
    for said in [
        '<dt>Cut</dt><dd>0.520 <span class="numeral-unit">mm</span>',
        "The target decides how deep",
        "<li>0.235\xa0mm</li>",
        "<li>0.050\xa0mm <",
        ">0.490\xa0mm</td>",
        "6.480\xa0mm",
        f'href="/jobs/{job.pk}/set-up">Go to: Set-up',
    ]:
        assert said in text, said


def test_the_flange_left_is_the_plans_however_far_the_cut_has_come(
    bench: Client, shop: Shop
) -> None:
    """A 7.0 flange keeps 6.480 after 0.52; after the first pass of 0.235 it stands at 6.765."""
    job = make_job(shop, state=State.SET_UP)
    send(bench, f"/jobs/{job.pk}/skip/indicate", {"why": "Done"})
    send(bench, f"/jobs/{job.pk}/touch-off", {"dial": "2.00"})
    send(bench, f"/jobs/{job.pk}/passes", {"dial": "2.235"})
    text = bench.get(f"/jobs/{job.pk}").text
    assert "Flange left after the planned cut</dt><dd>6.480" in text
    assert "Flange left now, by the passes taken</dt><dd>6.765" in text
    row = text[text.index('<th scope="row">Flange height') :].split("</tr>")[0]
    assert "6.480" in row


def test_the_plan_says_when_the_floor_decides(bench: Client, shop: Shop) -> None:
    """1.12, 1.02, 1.02, 0.92: the mean asks for 0.52, the tightest 0.92 only allows 0.50."""
    found = {0: "1.12", 90: "1.02", 180: "0.92", 270: "1.02"}
    job = make_job(shop, state=State.FOUND, found=found)
    send(bench, f"/jobs/{job.pk}/plan", {})
    text = bench.get(f"/jobs/{job.pk}/plan").text
    assert "<dt>Cut</dt><dd>0.500 <span" in text
    assert "<b>The floor decides, not the target.</b>" in text


def test_the_plan_asks_about_a_reading_that_the_others_do_not_bear_out(
    bench: Client, shop: Shop
) -> None:
    """0.79 typed for 0.97 lies 0.19 off the plane that the other three make."""
    found = {0: "0.98", 90: "0.99", 180: "0.98", 270: "0.79"}
    job = make_job(shop, state=State.FOUND, found=found)
    page = bench.get(f"/jobs/{job.pk}/plan").text
    assert "One position stands apart." in page
    wrong = Reading.objects.get(set__job=job, position_deg=270)
    assert f'href="/jobs/{job.pk}/readings/{wrong.pk}/void"' in page
    assert "The plan counts every reading as it stands." in page
    assert "0.200\xa0mm, wide toward 90°" in page
    even = make_job(shop, state=State.FOUND, serial="K-2")
    assert "stands apart" not in bench.get(f"/jobs/{even.pk}/plan").text


def test_gasket_and_flange_are_asked_for_in_any_unit(bench: Client, shop: Shop) -> None:
    """A gasket 0.25 thinner takes 0.25 of the gap by itself, so 0.27 is left to cut."""
    job = make_job(shop, state=State.FOUND)
    typed = {"gasket_next": "0.25", "flange": "0.2520 in"}
    send(bench, f"/jobs/{job.pk}/plan", typed)
    round_ = job.rounds.latest("number")
    assert str(round_.planned_depth_mm) == "0.270000"
    assert str(round_.flange_mm) == "6.400800"


@pytest.mark.parametrize("typed", [{"gasket_next": "-0.1"}, {"flange": "-7"}])
def test_a_negative_length_is_refused_on_its_field(
    bench: Client, shop: Shop, typed: dict[str, str]
) -> None:
    job = make_job(shop, state=State.FOUND)
    answer = send(bench, f"/jobs/{job.pk}/plan", typed)
    assert answer.status_code == 422
    [(name, value)] = typed.items()
    assert form_on(answer.text, "version")[name] == value
    assert f'href="#id_{name}"' in answer.text
    assert job.rounds.latest("number").plan is None


def test_a_changed_part_sends_the_job_back_to_as_found(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    assert f'href="/jobs/{job.pk}/parts-changed"' in bench.get(f"/jobs/{job.pk}/plan").text
    silent = send(bench, f"/jobs/{job.pk}/parts-changed", {})
    assert silent.status_code == 422
    answer = send_again(bench, silent, {"why": "New piston"})
    assert answer.headers["Location"] == f"/jobs/{job.pk}/as-found"
    assert "Take as-found again" in bench.get(f"/jobs/{job.pk}/plan").text
    refused = send(bench, f"/jobs/{job.pk}/plan", {})
    assert refused.status_code == 422
    assert "Take as-found again first" in refused.text


def test_a_plan_that_the_readings_left_behind_says_so(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    one = Reading.objects.get(set__job=job, position_deg=0)
    send(bench, f"/jobs/{job.pk}/readings/{one.pk}/void", {"why": "Misread", "replacement": "1.06"})
    for page in ("plan", "set-up"):
        assert "changed after this plan was made" in bench.get(f"/jobs/{job.pk}/{page}").text
    assert "Next: Plan" in bench.get(f"/jobs/{job.pk}").text
