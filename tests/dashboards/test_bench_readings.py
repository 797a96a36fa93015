"""As-found and achieved readings through their pages: units, boxes, and every refusal."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from dashboards.forms.readings import Box, ReadingsForm
from qc.models import Job, JobResult, Kind, Person, Reading, ReadingSet, Round, State
from qc.operations import resources
from qc.operations.policy import change_policy
from qc.units import mm
from tests.dashboards.pages import form_on, send, send_again
from tests.make import NOON, Shop, make_job

FOUR = {"at_0": "1.02", "at_90": "1.03", "at_180": "1.02", "at_270": "1.01"}
NARROW = {"at_0": "0.50", "at_90": "0.51", "at_180": "0.50", "at_270": "0.49"}


@pytest.fixture
def job(shop: Shop) -> Job:
    return make_job(shop, state=State.OPEN)


@pytest.fixture
def cut(shop: Shop) -> Job:
    return make_job(shop, state=State.CUT)


@pytest.fixture
def typed(shop: Shop) -> dict[str, Any]:
    return {**FOUR, "gauge": shop.gauge.pk, "solder": "1.5"}


def values(kind: Kind = Kind.AS_FOUND) -> dict[int, str]:
    rows = Reading.objects.filter(kind=kind, voided_at=None)
    return {int(one.position_deg): str(one.value_mm) for one in rows}


def refused(answer: Any, status: int, said: str, typed: dict[str, Any]) -> None:
    """The refusal is said, nothing is written, and everything typed is still in the form."""
    assert answer.status_code == status
    assert said in answer.text
    assert 'role="alert"' in answer.text
    assert not ReadingSet.objects.exists()
    shown = form_on(answer.text, "version")
    for name, value in typed.items():
        assert shown[name] == str(value), name


def test_readings_are_saved_and_the_plan_comes_next(bench: Client, job: Job, typed: Any) -> None:
    answer = send(bench, f"/jobs/{job.pk}/as-found", typed)
    assert answer.headers["Location"] == f"/jobs/{job.pk}/plan"
    assert values() == {0: "1.020000", 90: "1.030000", 180: "1.020000", 270: "1.010000"}
    taken = ReadingSet.objects.get()
    assert (str(taken.base_gasket_mm), str(taken.solder_mm)) == ("0.500000", "1.500000")
    assert taken.bolts_torqued is True
    assert taken.by.username == "oskar"


@pytest.mark.parametrize(
    ("unit", "text", "entered", "stored"),
    [
        ("in", ".0402", "0.0402 in", "1.021080"),
        ("in", "0.04020", "0.04020 in", "1.021080"),
        ("thou", "40.2", "40.2 thou", "1.021080"),
        ("mm", "1,02", "1.02 mm", "1.020000"),
        ("mm", "0.0402 in", "0.0402 in", "1.021080"),
        ("in", "40.2 thou", "40.2 thou", "1.021080"),
        ("thou", "1.02 mm", "1.02 mm", "1.020000"),
    ],
)
def test_each_reading_is_kept_as_typed_and_in_mm(
    bench: Client, job: Job, typed: Any, unit: str, text: str, entered: str, stored: str
) -> None:
    same = dict.fromkeys(FOUR, text)
    send(bench, f"/jobs/{job.pk}/as-found", {**typed, **same, "unit": unit, "solder": "1.5 mm"})
    assert set(values().values()) == {stored}
    kept = {f"{one.entered_value} {one.entered_unit}" for one in Reading.objects.all()}
    assert kept == {entered}


def test_the_unit_of_a_saved_form_is_the_persons_from_then_on(
    bench: Client, job: Job, shop: Shop, typed: Any
) -> None:
    inches = {"at_0": "0.0402", "at_90": "0.0405", "at_180": "0.0402", "at_270": "0.0398"}
    send(bench, f"/jobs/{job.pk}/as-found", {**typed, **inches, "unit": "in", "solder": ".06"})
    assert Person.objects.get(username="oskar").unit == "in"
    plan = bench.get(f"/jobs/{job.pk}/plan")
    assert "0.0402\xa0in" in plan.text


def test_no_reading_at_a_position_needs_a_reason(bench: Client, job: Job, typed: Any) -> None:
    three = {**typed, "at_270": ""}
    answer = send(bench, f"/jobs/{job.pk}/as-found", three)
    refused(answer, 422, "No reading at 270 degrees", three)
    assert send_again(bench, answer, {"why_fewer": "Port in the way"}).status_code == 302
    assert ReadingSet.objects.get().why_fewer == "Port in the way"


def test_a_doubtful_unit_is_asked_about_and_saved_once_confirmed(
    bench: Client, job: Job, typed: Any
) -> None:
    odd = {**typed, "at_90": "0.0402"}
    assert "confirm" not in form_on(bench.get(f"/jobs/{job.pk}/as-found").text, "version")
    answer = send(bench, f"/jobs/{job.pk}/as-found", odd)
    refused(answer, 422, "is far off", odd)
    assert "Is it right?" in answer.text
    assert send_again(bench, answer, {"confirm": "on"}).status_code == 302
    assert Reading.objects.get(position_deg=90).unit_confirmed


def test_a_doubtful_unit_can_be_corrected_instead(bench: Client, job: Job, typed: Any) -> None:
    answer = send(bench, f"/jobs/{job.pk}/as-found", {**typed, "at_90": "0.0402"})
    assert send_again(bench, answer, {"at_90": "0.0402 in"}).status_code == 302
    assert values()[90] == "1.021080"
    assert not Reading.objects.get(position_deg=90).unit_confirmed


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"at_90": "-1.03"}, "cannot be negative"),
        ({"at_90": "1.55"}, "thicker solder"),
        ({"at_90": "wide"}, "as a length"),
        ({"at_90": "1.0300001"}, "finer than"),
        ({"at_90": "1,030"}, "two things"),
        ({"base_gasket": ""}, "Nothing is written under “Base gasket in place"),
        ({"base_gasket": "-0.5"}, "cannot be negative"),
        ({"gauge": ""}, "Nothing is chosen under “Gauge”"),
        ({"measuring_radius": "0"}, "radius is above zero"),
    ],
)
def test_bad_input_is_said_on_its_field_and_nothing_typed_is_lost(
    bench: Client, job: Job, typed: Any, change: dict[str, str], said: str
) -> None:
    wrong = {**typed, **change}
    answer = send(bench, f"/jobs/{job.pk}/as-found", wrong)
    refused(answer, 422, said, wrong)
    [name] = change
    assert f'href="#id_{name}"' in answer.text
    assert f'id="id_{name}_error"' in answer.text


def test_an_empty_form_says_what_is_missing(bench: Client, job: Job, shop: Shop) -> None:
    answer = send(bench, f"/jobs/{job.pk}/as-found", {"gauge": shop.gauge.pk})
    refused(answer, 422, "Need at least 1 readings, got 0", {})


def test_a_gauge_past_calibration_is_marked_in_the_list_and_refused(
    bench: Client, job: Job, shop: Shop, typed: Any
) -> None:
    old = resources.register_gauge(
        name="Old micrometer",
        step=mm("0.01"),
        calibration_due=date(2026, 1, 31),
        by=shop.lead,
        at=NOON,
    )
    assert "OVERDUE: calibration was due 2026-01-31" in bench.get(f"/jobs/{job.pk}/as-found").text
    with_old = {**typed, "gauge": old.pk}
    answer = send(bench, f"/jobs/{job.pk}/as-found", with_old)
    refused(answer, 422, "was due for calibration on 2026-01-31", with_old)
    change_policy(by=shop.lead, at=NOON, why="Busy", overdue_gauge_is_refused=False)
    assert send_again(bench, answer, {}).status_code == 302
    assert ReadingSet.objects.get().gauge_overdue


def test_a_retired_gauge_is_not_offered(bench: Client, job: Job, shop: Shop, typed: Any) -> None:
    resources.retire(resource=shop.gauge, by=shop.lead, at=NOON, why="Dropped")
    answer = send(bench, f"/jobs/{job.pk}/as-found", typed)
    assert answer.status_code == 422
    assert "not one of the available choices" in answer.text


def test_another_piece_and_crush_keep_what_was_typed(bench: Client, job: Job, typed: Any) -> None:
    address = f"/jobs/{job.pk}/as-found"
    more = send(bench, address, {**typed, "more": "pieces"})
    assert more.status_code == 200
    assert not ReadingSet.objects.exists()
    shown = form_on(more.text, "version")
    assert shown["at_270"] == "1.01"
    assert shown["at_0_2_1"] == ""
    more = send_again(bench, more, {"at_0_2_1": "1.04", "more": "crushes"})
    shown = form_on(more.text, "version")
    assert shown["at_0_2_1"] == "1.04"
    assert shown["at_0_1_2"] == shown["at_0_2_2"] == ""
    answer = send_again(bench, more, {"at_0_1_2": "1.00"})
    assert answer.status_code == 302
    at_0 = Reading.objects.filter(position_deg=0).values_list("piece", "crush", "value_mm")
    assert set(at_0) == {
        (1, 1, Decimal("1.02")),
        (1, 2, Decimal("1.00")),
        (2, 1, Decimal("1.04")),
    }


def test_another_position_takes_its_degrees(bench: Client, job: Job, typed: Any) -> None:
    more = send(bench, f"/jobs/{job.pk}/as-found", {**typed, "more": "others"})
    lost = send_again(bench, more, {"other_1": "1.02"})
    assert lost.status_code == 422
    assert "at which position" in lost.text
    assert send_again(bench, lost, {"other_1_deg": "45"}).status_code == 302
    assert values()[45] == "1.020000"


def test_two_readings_at_one_position_are_said_to_be(bench: Client, job: Job, typed: Any) -> None:
    more = send(bench, f"/jobs/{job.pk}/as-found", {**typed, "more": "others"})
    answer = send_again(bench, more, {"other_1": "1.02", "other_1_deg": "360"})
    assert answer.status_code == 422
    assert "exists already" in answer.text
    assert not ReadingSet.objects.exists()


def test_enter_without_script_asks_for_the_next_empty_box(
    bench: Client, job: Job, typed: Any
) -> None:
    """A browser that runs no script presses a form's first button when Enter is typed."""
    page = bench.get(f"/jobs/{job.pk}/as-found").text
    form = page[page.index("data-gauge-form") :]
    first = form[form.index("<button") :]
    assert first.startswith('<button class="unseen" type="submit" name="more" value="next"')
    answer = send(bench, f"/jobs/{job.pk}/as-found", {"at_0": "1.02", "more": "next"})
    assert form_on(answer.text, "version")["at_0"] == "1.02"
    assert "autofocus" in answer.text[answer.text.index('name="at_90"') :].split(">")[0]
    assert "alert" not in answer.text
    full = send_again(bench, answer, {**typed, "more": "next"})
    assert "autofocus>Save the as-found readings" in full.text
    assert not ReadingSet.objects.exists()


def test_as_found_taken_again_needs_a_reason(bench: Client, shop: Shop, typed: Any) -> None:
    job = make_job(shop, state=State.FOUND)
    answer = send(bench, f"/jobs/{job.pk}/as-found", typed)
    assert answer.status_code == 422
    assert "Taking as-found again needs a reason" in answer.text
    assert send_again(bench, answer, {"why_again": "Bolts were loose"}).status_code == 302
    assert ReadingSet.objects.filter(kind=Kind.AS_FOUND).count() == 2


def test_achieved_readings_lead_to_the_verdict(bench: Client, cut: Job, typed: Any) -> None:
    answer = send(bench, f"/jobs/{cut.pk}/achieved", {**typed, **NARROW})
    assert answer.headers["Location"] == f"/jobs/{cut.pk}/verdict"
    assert JobResult.objects.get().height_mm == pytest.approx(0.50, abs=1e-12)


def test_achieved_without_a_cut_needs_a_reason(bench: Client, shop: Shop, typed: Any) -> None:
    job = make_job(shop, state=State.SET_UP)
    sent = {**typed, **NARROW, "confirm": "on"}
    answer = send(bench, f"/jobs/{job.pk}/achieved", sent)
    assert answer.status_code == 422
    assert "A cut in this round is not recorded. Record it, or skip it with a reason" in answer.text
    assert 'id="id_why_no_cut_error"' in answer.text
    answer = send_again(bench, answer, {"why_no_cut": "Cut last week, sheet lost"})
    assert answer.status_code == 302
    assert JobResult.objects.get().depth_is_planned


def test_a_part_changed_since_as_found_leaves_no_prediction(
    bench: Client, cut: Job, typed: Any
) -> None:
    send(bench, f"/jobs/{cut.pk}/achieved", {**typed, **NARROW, "parts_changed": "on"})
    assert JobResult.objects.get().predicted_mm is None
    assert Round.objects.get(job=cut).parts_changed
    assert "a part of the engine changed" in bench.get(f"/jobs/{cut.pk}/verdict").text


def test_a_form_of_readings_that_says_not_where_its_boxes_stand_cannot_be_made() -> None:
    class Boxed(ReadingsForm):
        def boxes(self) -> list[Box]:
            return [Box("at_0", "0°")]

    for kind in (ReadingsForm, Boxed):
        with pytest.raises(TypeError, match="abstract method"):
            kind(unit="mm")
