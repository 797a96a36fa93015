"""Plan, set-up, indicating, touch-off and passes through their pages, refusals included."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from qc.models import DriftChannel, Job, Kind, Pass, Reading, ReadingSet, Round, SkippedStep, State
from qc.operations import engines, resources
from qc.units import mm
from tests.clocked import clocked_job, two_planes
from tests.dashboards.pages import form_on, send, send_again
from tests.flagged import make_flag
from tests.make import ALDER, NOON, Shop, make_job


def newest(job: Job) -> Round:
    return job.rounds.latest("number")


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
    round_ = newest(job)
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
    assert newest(job).plan is None


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


def set_up(shop: Shop, **change: object) -> dict[str, object]:
    typed = {"fixture": shop.fixture.pk, "edge": shop.edge.pk, "clocking": "40"}
    return {**typed, **change}


def test_a_set_up_is_saved(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    answer = send(bench, f"/jobs/{job.pk}/set-up", set_up(shop))
    assert answer.headers["Location"] == f"/jobs/{job.pk}/indicate"
    round_ = newest(job)
    assert (round_.fixture, round_.lathe, round_.edge) == (shop.fixture, shop.lathe, shop.edge)
    assert round_.clocking_deg == 40
    assert round_.operator == shop.operator.person
    assert round_.dial_factor == 1


def test_not_clocked_is_a_choice_that_says_what_it_costs(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    page = bench.get(f"/jobs/{job.pk}/set-up").text
    assert "stays off the fixture's tilt chart" in page.replace("&#x27;", "'")
    send(bench, f"/jobs/{job.pk}/set-up", set_up(shop, clocking="", not_clocked="on"))
    assert newest(job).clocking_deg is None
    assert (
        "checked" in bench.get(f"/jobs/{job.pk}/set-up").text.split('id="id_not_clocked"')[1][:20]
    )


def test_a_compound_takes_its_angle_factor(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    address = f"/jobs/{job.pk}/set-up"
    silent = send(bench, address, set_up(shop, dial="compound"))
    assert silent.status_code == 422
    assert "angle factor" in silent.text
    send_again(bench, silent, {"dial_factor": "0.5"})
    assert newest(job).dial_factor == Decimal("0.5")
    shown = form_on(bench.get(address).text, "version")
    assert (shown["dial"], shown["dial_factor"]) == ("compound", "0.5")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"clocking": ""}, "Give the clocking, or tick"),
        ({"not_clocked": "on"}, "not both"),
        ({"clocking": "400"}, "no clock position"),
        ({"clocking": "up"}, "no clock position"),
        ({"clocking": "40.123"}, "two decimals"),
        ({"fixture": ""}, "Nothing is chosen under “Fixture”"),
        ({"dial": "compound", "dial_factor": "1.2"}, "above 0 and at most 1"),
    ],
)
def test_a_set_up_is_refused_for_a_reason_that_is_said(
    bench: Client, shop: Shop, change: dict[str, str], said: str
) -> None:
    job = make_job(shop, state=State.PLANNED)
    typed = set_up(shop, **change)
    answer = send(bench, f"/jobs/{job.pk}/set-up", typed)
    assert answer.status_code == 422
    assert said in answer.text
    shown = form_on(answer.text, "version")
    assert {name: shown[name] for name in typed} == {name: str(v) for name, v in typed.items()}
    assert newest(job).fixture is None


def test_a_retired_fixture_is_refused_even_from_a_page_opened_before(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop, state=State.PLANNED)
    sent = form_on(bench.get(f"/jobs/{job.pk}/set-up").text, "version")
    resources.retire(resource=shop.fixture, by=shop.lead, at=NOON, why="Bent")
    answer = bench.post(f"/jobs/{job.pk}/set-up", {**sent, **set_up(shop)})
    assert answer.status_code == 422
    assert "not one of the available choices" in answer.text


def test_the_set_up_clock_runs_the_other_way_seen_from_the_tailstock(
    bench: Client, shop: Shop
) -> None:
    """Base toward you, 90 degrees stands on the left of the exhaust port and 270 on the right."""
    job = make_job(shop, state=State.SET_UP, clocking=90)
    text = bench.get(f"/jobs/{job.pk}/set-up").text
    assert '<text x="-84.0" y="-0.0" dy="5">90°</text>' in text
    assert '<text x="84.0" y="0.0" dy="5">270°</text>' in text
    assert 'd="M0 0L-46.0 -0.0"' in text
    as_found = bench.get(f"/jobs/{make_job(shop, serial='C-2').pk}/as-found").text
    assert '<text x="84.0" y="-0.0" dy="5">90°</text>' in as_found


def test_indicating_before_and_after_tightening(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    address = f"/jobs/{job.pk}/indicate"
    shown = form_on(bench.get(address).text, "version")
    assert [int(shown[f"deg_1_{n}"]) for n in range(1, 9)] == list(range(0, 360, 45))
    assert shown["kind"] == Kind.INDICATED_SNUG
    answer = send(bench, address, {"dial_1_1": "0", "dial_1_3": "-0.004", "dial_1_5": "0.25 thou"})
    assert answer.headers["Location"] == address
    snug = Reading.objects.filter(kind=Kind.INDICATED_SNUG)
    assert [(one.position_deg, str(one.value_mm)) for one in snug] == [
        (0, "0.000000"),
        (90, "-0.004000"),
        (180, "0.006350"),
    ]
    answer = send(bench, address, {"dial_1_1": "0", "dial_1_2": "0.01", "deg_1_2": "60"})
    assert answer.headers["Location"] == f"/jobs/{job.pk}/touch-off"
    tight = Reading.objects.filter(kind=Kind.INDICATED_TIGHT)
    assert [one.position_deg for one in tight] == [0, 60]


def test_a_second_plane_and_more_positions_can_be_asked_for(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    more = send(bench, f"/jobs/{job.pk}/indicate", {"dial_1_1": "0.01", "more": "planes"})
    more = send_again(bench, more, {"dial_2_1": "0.02", "dial_2_5": "0", "more": "angles"})
    shown = form_on(more.text, "version")
    assert (shown["dial_1_1"], shown["dial_2_1"]) == ("0.01", "0.02")
    answer = send_again(bench, more, {"deg_1_9": "10", "dial_1_9": "0.03"})
    assert answer.status_code == 302
    dial = Reading.objects.filter(kind=Kind.INDICATED_SNUG)
    kept = set(dial.values_list("plane", "position_deg"))
    assert kept == {(1, 0), (1, 10), (2, 0), (2, 180)}


TURN = {"dial_1_1": "0.5", "dial_1_2": "0.4", "dial_1_3": "0", "dial_1_4": "-0.4"} | {
    "dial_1_5": "-0.5",
    "dial_1_6": "-0.4",
    "dial_1_7": "0",
    "dial_1_8": "0.4",
    "unit": "thou",
}


def test_a_dial_reading_off_the_circle_of_the_others_is_asked_about(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop, state=State.SET_UP)
    asked = send(bench, f"/jobs/{job.pk}/indicate", {**TURN, "dial_1_2": "4"})
    assert asked.status_code == 422
    words = asked.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "4 thou at 45 degrees stands 3.6 thou off the circle" in words
    assert 'href="#id_dial_1_2"' in words
    assert not ReadingSet.objects.filter(kind=Kind.INDICATED_SNUG).exists()
    assert send_again(bench, asked, {"confirm": "on"}).status_code == 302
    slip = Reading.objects.get(kind=Kind.INDICATED_SNUG, position_deg=45)
    assert (str(slip.value_mm), slip.unit_confirmed) == ("0.101600", True)
    void = f"/jobs/{job.pk}/readings/{slip.pk}/void"
    page = bench.get(void).text
    assert "Indicated, snug at 45°" in page
    assert "piece" not in page
    again = send(bench, void, {"why": "Slip", "unit": "thou", "replacement": "40"})
    assert again.status_code == 422
    assert send_again(bench, again, {"replacement": "0.4"}).status_code == 302
    assert "piece" not in bench.get(f"/jobs/{job.pk}/indicate").text


def test_over_the_limit_before_tightening_nobody_is_told_to_tighten(
    bench: Client, shop: Shop
) -> None:
    """The shop's limit is half a thou; this turn runs out by two."""
    job = make_job(shop, state=State.SET_UP)
    address = f"/jobs/{job.pk}/indicate"
    far = {name: f"{2 * float(value):g}" for name, value in TURN.items() if name != "unit"}
    answer = send(bench, address, {**far, "unit": "thou"})
    page = bench.get(answer.headers["Location"]).text
    assert "before tightening" in page
    assert "Now tighten" not in page
    assert form_on(page, "version")["kind"] == Kind.INDICATED_SNUG
    assert "±0.01 thou" in page.replace("\N{NO-BREAK SPACE}", " ")
    true = {name: f"{float(value) / 5:g}" for name, value in TURN.items() if name != "unit"}
    answer = send(bench, address, {**true, "unit": "thou"})
    page = bench.get(answer.headers["Location"]).text
    assert "Now tighten, and indicate again" in page
    assert form_on(page, "version")["kind"] == Kind.INDICATED_TIGHT


def test_only_what_can_indicate_is_offered(bench: Client, shop: Shop) -> None:
    """The shop's micrometer reads the gaps of every job."""
    _, dial_b = (
        resources.register_gauge(name=name, step=mm("0.002"), by=shop.lead, at=NOON)
        for name in ("Dial A", "Dial B")
    )
    job = make_job(shop, state=State.SET_UP)
    address = f"/jobs/{job.pk}/indicate"
    text = bench.get(address).text
    assert "Micrometer 1" not in text
    assert text.index("Dial A") < text.index("Dial B")
    send(bench, address, {"dial_1_1": "0", "dial_1_5": "0.01", "gauge": dial_b.pk})
    text = bench.get(address).text
    assert text.index("Dial B, reads") < text.index("Dial A, reads")


def test_one_dial_reading_shows_nothing(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    answer = send(bench, f"/jobs/{job.pk}/indicate", {"dial_1_1": "0.01"})
    assert answer.status_code == 422
    assert "two or more positions" in answer.text
    assert form_on(answer.text, "version")["dial_1_1"] == "0.01"
    assert not ReadingSet.objects.filter(kind=Kind.INDICATED_SNUG).exists()


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


def test_a_fixture_that_never_held_such_an_engine_is_asked_about(bench: Client, shop: Shop) -> None:
    """Plug B holds another family; Plug C is new, and nothing is asked about it."""
    other = engines.add_family(by=shop.lead, at=NOON, **{**ALDER, "name": "Birch 71"})
    plug_b, plug_c = (
        resources.register_fixture(name=name, by=shop.lead, at=NOON)
        for name in ("Plug B", "Plug C")
    )
    birch = engines.register_cylinder(family=other, serial="B-1", by=shop.lead, at=NOON)
    make_job(shop, state=State.SET_UP, cylinder=birch, fixture=plug_b)
    make_job(shop, state=State.SET_UP)
    job = make_job(shop, state=State.PLANNED, serial="C-2")
    address = f"/jobs/{job.pk}/set-up"
    asked = send(bench, address, set_up(shop, fixture=plug_b.pk))
    assert asked.status_code == 422
    words = asked.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "Plug B has held other engines, and no Alder 46 yet" in words
    assert "a bore of 43.200 mm" in words
    assert send_again(bench, asked, {"confirm": "on"}).status_code == 302
    assert newest(job).fixture == plug_b
    assert send(bench, address, set_up(shop, fixture=plug_c.pk)).status_code == 302


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


def turn(first: str, opposite: str) -> dict[str, str]:
    return {"dial_1_1": first, "dial_1_3": "0", "dial_1_5": opposite, "dial_1_7": "0"}


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
    assert newest(job).correction_mm > 0
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
