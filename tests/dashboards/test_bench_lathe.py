"""Touch-off and passes through their pages, and what the pages of a job's steps share."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from qc.models import DriftChannel, Job, Kind, Pass, Round, SkippedStep, State
from tests.clocked import clocked_job, two_planes
from tests.dashboards.pages import form_on, send, send_again
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job


def turn(first: str, opposite: str) -> dict[str, str]:
    return {"dial_1_1": first, "dial_1_3": "0", "dial_1_5": opposite, "dial_1_7": "0"}


def test_touch_off_waits_for_indicating_or_a_reason(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    answer = send(bench, f"/jobs/{job.pk}/touch-off", {"dial": "2.00"})
    assert answer.status_code == 422
    assert "Indicating after tightening is not recorded" in answer.text
    skipped = send(bench, f"/jobs/{job.pk}/skip/indicate", {"why": "Done this morning"})
    assert skipped.headers["Location"] == f"/jobs/{job.pk}"
    assert SkippedStep.objects.get().why == "Done this morning"
    assert send_again(bench, answer, {"version": Job.objects.get().version}).status_code == 302


def test_dial_readings_of_the_passes_count_from_touch_off_and_paper(
    bench: Client, shop: Shop
) -> None:
    """Touch-off 2.00 on 0.05 paper: the first pass of 0.235 ends at 2.285, the last at 2.57."""
    job = make_job(shop, state=State.SET_UP)
    send(bench, f"/jobs/{job.pk}/skip/indicate", {"why": "Done"})
    send(bench, f"/jobs/{job.pk}/touch-off", {"dial": "2.00", "paper": "0.05"})
    address = f"/jobs/{job.pk}/passes"
    first = '<dt>Turn the dial to</dt><dd>2.285 <span class="numeral-unit">mm</span>'
    assert first in bench.get(address).text
    send(bench, address, {"dial": "2.285"})
    assert "<dt>Turn the dial to</dt><dd>2.520 <span" in bench.get(address).text
    send(bench, address, {"dial": "2.52"})
    send(bench, address, {"dial": "2.57"})
    text = bench.get(address).text
    assert "Every planned pass is taken" in text
    send(bench, address, {"dial": "2.57", "is_spring": "on"})
    assert [one.is_spring for one in Pass.objects.order_by("number")] == [False] * 3 + [True]
    assert "Go to: Achieved readings" in bench.get(f"/jobs/{job.pk}").text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"dial": "1.50"}, "before touch-off"),
        ({"dial": ""}, "Nothing is written under"),
        ({"dial": "x"}, "length"),
    ],
)
def test_a_pass_is_refused_and_keeps_what_was_typed(
    bench: Client, shop: Shop, typed: dict[str, str], said: str
) -> None:
    job = make_job(shop, state=State.CUT)
    answer = send(bench, f"/jobs/{job.pk}/passes", {**typed, "is_spring": "on"})
    assert answer.status_code == 422
    assert said in answer.text
    shown = form_on(answer.text, "version")
    assert (shown["dial"], shown["is_spring"]) == (typed["dial"], "on")
    assert Pass.objects.count() == 2


def test_a_pass_waits_for_touch_off(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    assert "Touch off first" in bench.get(f"/jobs/{job.pk}/passes").text
    answer = send(bench, f"/jobs/{job.pk}/passes", {"dial": "2.25"})
    assert answer.status_code == 422
    assert "Touch-off is not recorded" in answer.text


@pytest.mark.parametrize(
    ("state", "step"),
    [
        (State.OPEN, "as_found"),
        (State.FOUND, "plan"),
        (State.PLANNED, "set_up"),
        (State.SET_UP, "passes"),
    ],
)
def test_a_step_is_skipped_only_with_a_reason(
    bench: Client, shop: Shop, state: State, step: str
) -> None:
    job = make_job(shop, state=state)
    silent = send(bench, f"/jobs/{job.pk}/skip/{step}", {"why": " "})
    assert silent.status_code == 422
    assert not SkippedStep.objects.exists()
    assert send_again(bench, silent, {"why": "Sheet lost"}).status_code == 302
    assert "Sheet lost" in bench.get(f"/jobs/{job.pk}").text


def test_there_is_no_skipping_of_anything_else(bench: Client, shop: Shop) -> None:
    job = make_job(shop)
    assert bench.get(f"/jobs/{job.pk}/skip/achieved").status_code == 404


def test_going_back_after_a_pass_says_which_to_void(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    first, second = Pass.objects.order_by("number")
    for step in ("as-found", "plan", "set-up", "indicate", "touch-off"):
        text = bench.get(f"/jobs/{job.pk}/{step}").text
        assert "nothing to record here now" in text
        assert "Saving again" not in text, step
        assert "To change this step, void the passes on record first" in text
        for taken in (first, second):
            assert f'href="/jobs/{job.pk}/passes/{taken.pk}/void"' in text
    for taken in (second, first):
        send(bench, f"/jobs/{job.pk}/passes/{taken.pk}/void", {"why": "Not taken"})
    assert "Saving again changes it" in bench.get(f"/jobs/{job.pk}/set-up").text


def test_while_passes_are_left_a_job_is_being_cut(bench: Client, shop: Shop) -> None:
    """0.52 in passes of 0.235, 0.235 and 0.050 from a touch-off at 2.00."""
    job = make_job(shop, state=State.SET_UP)
    send(bench, f"/jobs/{job.pk}/skip/indicate", {"why": "Done"})
    send(bench, f"/jobs/{job.pk}/touch-off", {"dial": "2.00"})
    for taken, dial in enumerate(("2.235", "2.47"), start=1):
        send(bench, f"/jobs/{job.pk}/passes", {"dial": dial})
        assert f"being cut, pass {taken} of 3 taken" in bench.get(f"/jobs/{job.pk}").text
        for address in ("/jobs", "/"):
            assert "</svg>being cut</span>" in bench.get(address).text
    assert "is being cut, pass 2 of 3 taken" in bench.get(f"/jobs/{job.pk}/plan").text
    send(bench, f"/jobs/{job.pk}/passes", {"dial": "2.52"})
    for address in (f"/jobs/{job.pk}", "/jobs", "/"):
        assert "being cut" not in bench.get(address).text


def test_a_step_the_job_is_past_says_so(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    for step in ("as-found", "plan", "set-up", "indicate", "touch-off", "passes"):
        text = bench.get(f"/jobs/{job.pk}/{step}").text
        assert "is measured: nothing to record here now" in text
        assert "Go to: Verdict" in text


def test_a_step_sent_too_late_is_refused_with_what_was_typed(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    sent = {"version": job.version, "seen": 0, "unit": "mm", "dial": "2.60"}
    answer = bench.post(f"/jobs/{job.pk}/passes", sent)
    assert answer.status_code == 422
    assert "this step needs it to be" in answer.text
    assert form_on(answer.text, "version")["dial"] == "2.60"


def test_cautions_stand_on_plan_set_up_and_reading_pages(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    for step, said in [
        ("as-found", "Turn the crank by hand only"),
        ("achieved", "Count the pieces in"),
        ("plan", "Keep the floor"),
        ("set-up", "Chuck key out"),
        ("indicate", "Chuck key out"),
        ("touch-off", "Eye protection"),
        ("passes", "Check the grip again"),
    ]:
        text = bench.get(f"/jobs/{job.pk}/{step}").text
        assert said in text, step
        assert "limits and instructions come first, then local rules" in text
        assert "licensed" in text


def test_cautions_of_a_verdict_are_about_running_the_engine(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    verdict = bench.get(f"/jobs/{job.pk}/verdict").text
    assert "<h2>Before the engine runs</h2>" in verdict
    assert '<a href="#cautions">Before the engine runs: cautions</a>' in verdict
    assert "Keep the floor" in verdict
    assert "Before you start" not in verdict
    assert "<h2>Before you start</h2>" in bench.get(f"/jobs/{job.pk}/achieved").text


def test_touch_off_says_again_that_it_runs_out_over_the_limit(bench: Client, shop: Shop) -> None:
    """The limit is 0.0127: 0.030 on either side runs out 0.060, 0.002 is within it."""
    job = make_job(shop, state=State.SET_UP)
    indicate, touch_off = f"/jobs/{job.pk}/indicate", f"/jobs/{job.pk}/touch-off"
    over = "tightening it runs out 0.060\xa0mm, over the limit of 0.013\xa0mm."
    back = f'<a href="{indicate}">Back to indicating</a>'
    assert "runs out" not in bench.get(touch_off).text
    send(bench, indicate, {"kind": Kind.INDICATED_SNUG, **turn("0.03", "-0.03")})
    assert f"<b>Before {over}</b> {back}" in bench.get(touch_off).text
    again = send(bench, indicate, {"kind": Kind.INDICATED_TIGHT, **turn("0.03", "-0.03")})
    assert again.headers["Location"] == indicate
    assert f"<b>After {over}</b> {back}" in bench.get(touch_off).text
    true = send(bench, indicate, {"kind": Kind.INDICATED_TIGHT, **turn("0.001", "-0.001")})
    assert true.headers["Location"] == touch_off
    assert "runs out" not in bench.get(touch_off).text


def test_the_record_keeps_what_dial_and_clocking_test_said(bench: Client, shop: Shop) -> None:
    """Fixture +0.015 and engine +0.005 toward 0, in tests/operations/test_answers.py worked out."""
    two_planes(shop)
    job = clocked_job(shop)
    words = bench.get(f"/jobs/{job.pk}").text.replace("\N{NO-BREAK SPACE}", " ")
    said = words[words.index("What indicating said") :]
    assert "0.020 mm" in said
    assert "0.200 mrad toward 0°" in said
    assert "Clocking test with an earlier round" in words
    of_cylinder = bench.get(f"/shop/cylinders/{job.cylinder_id}").text
    for page in (words, of_cylinder.replace("\N{NO-BREAK SPACE}", " ")):
        assert "0.015 mm" in page
        assert "wide toward 0°" in page


def test_taking_a_correction_keeps_what_was_typed_at_touch_off(bench: Client, shop: Shop) -> None:
    """Twelve jobs that came out 0.03 wide: the button sends the touch-off form to its own address,
    and the page comes back with the boxes as they were."""
    for number in range(12):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"W-{number}",
            achieved={0: "0.53", 90: "0.54", 180: "0.53", 270: "0.52"},
            at=NOON + timedelta(days=number),
        )
    job = make_job(shop, state=State.SET_UP, at=NOON + timedelta(days=20))
    page = bench.get(f"/jobs/{job.pk}/touch-off")
    button = f'form="step-form" formaction="/jobs/{job.pk}/correction" name="choice" value="take"'
    assert button in page.text
    assert "mm wider than the dial promised" in page.text
    assert "An open flag" not in page.text
    typed = {"unit": "thou", "dial": "78.75", "paper": "2"}
    answer = bench.post(
        f"/jobs/{job.pk}/correction",
        {**form_on(page.text, "version"), **typed, "choice": "take"},
        follow=True,
    )
    assert job.rounds.latest("number").correction_mm > 0
    shown = form_on(answer.text, "version")
    assert {name: shown[name] for name in typed} == typed
    lathe, edge = ("lathe", shop.lathe.pk), ("edge", shop.edge.pk)
    make_flag(
        Round.objects.earliest("pk"),
        kind="lathe",
        key=shop.lathe.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[(*lathe, 0.5), (*edge, 0.45)],
    )
    flagged = bench.get(f"/jobs/{job.pk}/touch-off").text
    assert flagged.count("An open flag") == 1
    assert f"{shop.edge.name}, slot" in bench.get(f"/jobs/{job.pk}/set-up").text
    assert "flagged: gaps may come out wrong" in bench.get(f"/jobs/{job.pk}/set-up").text
    for listed in ("/shop/edges", "/shop/lathes", f"/shop/lathes/{shop.lathe.pk}"):
        assert "</svg>flagged</span>" in bench.get(listed).text
    assert "</svg>flagged</span>" not in bench.get("/shop/gauges").text
