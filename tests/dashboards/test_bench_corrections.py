"""Voiding with a reason and a replacement, and adding a piece or a crush."""

from __future__ import annotations

import pytest
from django.test import Client

from qc.models import Job, JobResult, Kind, Pass, Reading, ReadingSet, State
from tests.dashboards.pages import SignedIn, form_on, send, send_again
from tests.make import Shop, make_job


@pytest.fixture
def measured(shop: Shop) -> Job:
    return make_job(shop, state=State.MEASURED)


def reading(kind: Kind = Kind.ACHIEVED, at: int = 0) -> Reading:
    return Reading.objects.get(kind=kind, position_deg=at, voided_at=None)


def test_a_reading_is_void_and_replaced_and_the_verdict_follows(
    bench: Client, measured: Job
) -> None:
    """0.54 for 0.50 at 0 degrees: the mean of 0.54, 0.51, 0.50, 0.49 is 0.51."""
    wrong = reading()
    address = f"/jobs/{measured.pk}/readings/{wrong.pk}/void"
    answer = send(bench, address, {"why": "Misread", "replacement": "0.54"})
    assert answer.headers["Location"] == f"/jobs/{measured.pk}"
    wrong.refresh_from_db()
    assert (wrong.void_reason, wrong.replaced_by) == ("Misread", reading())
    current = JobResult.objects.get(is_current=True)
    assert (current.revision, current.height_mm) == (2, pytest.approx(0.51, abs=1e-12))


def test_a_replacement_may_be_in_another_unit(bench: Client, measured: Job) -> None:
    address = f"/jobs/{measured.pk}/readings/{reading().pk}/void"
    send(bench, address, {"why": "Misread", "replacement": "20", "unit": "thou"})
    assert str(reading().value_mm) == "0.508000"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"replacement": "0.54"}, "saying why"),
        ({"why": "Misread", "replacement": "-0.5"}, "cannot be negative"),
        ({"why": "Misread", "replacement": "1.2"}, "thicker solder"),
        ({"why": "Misread", "replacement": "20"}, "is far off"),
        ({"why": "Misread", "replacement": "0.02"}, "is far off"),
    ],
)
def test_a_void_is_refused_and_keeps_what_was_typed(
    bench: Client, measured: Job, typed: dict[str, str], said: str
) -> None:
    address = f"/jobs/{measured.pk}/readings/{reading().pk}/void"
    answer = send(bench, address, typed)
    assert answer.status_code == 422
    assert said in answer.text
    shown = form_on(answer.text, "version")
    assert {name: shown[name] for name in typed} == typed
    assert not Reading.objects.exclude(voided_at=None).exists()


def test_a_doubtful_replacement_is_saved_once_confirmed(bench: Client, measured: Job) -> None:
    address = f"/jobs/{measured.pk}/readings/{reading().pk}/void"
    answer = send(bench, address, {"why": "Misread", "replacement": "0.02"})
    assert send_again(bench, answer, {"confirm": "on"}).status_code == 302
    assert reading().unit_confirmed


def test_a_void_reading_is_not_void_twice(bench: Client, measured: Job) -> None:
    one = reading()
    address = f"/jobs/{measured.pk}/readings/{one.pk}/void"
    send(bench, address, {"why": "Misread", "replacement": "0.54"})
    answer = send(bench, address, {"why": "Misread", "replacement": "0.55"})
    assert answer.status_code == 422
    assert "void already" in answer.text


def test_another_jobs_reading_is_not_found(bench: Client, measured: Job, shop: Shop) -> None:
    other = make_job(shop, state=State.FOUND, serial="C-2")
    assert bench.get(f"/jobs/{other.pk}/readings/{reading().pk}/void").status_code == 404


def test_after_release_a_lead_alone_may_void(signed_in: SignedIn, shop: Shop) -> None:
    job = make_job(shop, state=State.RELEASED)
    address = f"/jobs/{job.pk}/readings/{reading().pk}/void"
    typed = {"why": "Misread", "replacement": "0.51"}
    refused = send(signed_in("operator"), address, typed)
    assert refused.status_code == 403
    assert form_on(refused.text, "version")["replacement"] == "0.51"
    assert send(signed_in("lead"), address, typed).status_code == 302


def test_a_pass_is_void_and_replaced_and_the_depth_follows(bench: Client, measured: Job) -> None:
    last = Pass.objects.get(number=2)
    address = f"/jobs/{measured.pk}/passes/{last.pk}/void"
    silent = send(bench, address, {"replacement": "2.50"})
    assert silent.status_code == 422
    send_again(bench, silent, {"why": "Misread"})
    assert str(JobResult.objects.get(is_current=True).depth_cut_mm) == "0.500000"
    assert "Void: Misread" in bench.get(f"/jobs/{measured.pk}").text


def test_the_reason_for_fewer_positions_goes_when_the_fourth_is_added(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop)
    three = {"at_0": "1.02", "at_90": "1.03", "at_180": "1.02", "why_fewer": "Port in the way"}
    send(bench, f"/jobs/{job.pk}/as-found", {**three, "gauge": shop.gauge.pk})
    page, reason = f"/jobs/{job.pk}/as-found", "Why fewer positions</dt><dd>Port in the way"
    assert reason in bench.get(page).text
    taken = ReadingSet.objects.get()
    added = send(bench, f"/jobs/{job.pk}/sets/{taken.pk}/add", {"at_270": "1.01", "what": "piece"})
    said = bench.get(added.headers["Location"]).text
    assert "The readings are added to the set." in said
    assert reason not in bench.get(page).text
    taken.refresh_from_db()
    assert taken.why_fewer == "Port in the way"


def test_a_box_says_truly_whether_it_may_stay_empty(bench: Client, shop: Shop) -> None:
    def label(address: str, of: str) -> str:
        text = bench.get(address).text
        return text[text.index(f'for="id_{of}"') :].split("</label>")[0]

    planned, found = make_job(shop, state=State.PLANNED), make_job(shop, serial="C-2")
    set_up = f"/jobs/{planned.pk}/set-up"
    assert "(optional)" not in label(set_up, "clocking")
    assert "(for a compound at an angle)" in label(set_up, "dial_factor")
    assert "(optional)" not in label(f"/jobs/{planned.pk}/as-found", "why_again")
    assert "(when one of the four is left empty)" in label(
        f"/jobs/{found.pk}/as-found", "why_fewer"
    )
    assert "(optional)" in label(f"/jobs/{found.pk}/as-found", "note")


def test_a_piece_and_then_its_second_crush_are_added(bench: Client, measured: Job) -> None:
    taken = ReadingSet.objects.get(kind=Kind.ACHIEVED)
    address = f"/jobs/{measured.pk}/sets/{taken.pk}/add"
    assert f'href="{address}"' in bench.get(f"/jobs/{measured.pk}").text
    send(bench, address, {"at_0": "0.52", "what": "piece"})
    send(bench, address, {"at_0": "0.51", "what": "crush"})
    spots = Reading.objects.filter(set=taken, position_deg=0).values_list("piece", "crush")
    assert set(spots) == {(1, 1), (2, 1), (2, 2)}
    assert JobResult.objects.get(is_current=True).spread_df == 1


def test_a_piece_is_added_at_a_new_position(bench: Client, measured: Job) -> None:
    taken = ReadingSet.objects.get(kind=Kind.ACHIEVED)
    address = f"/jobs/{measured.pk}/sets/{taken.pk}/add"
    more = send(bench, address, {"more": "others"})
    answer = send_again(bench, more, {"other_1": "0.50", "other_1_deg": "45"})
    assert answer.status_code == 302
    assert Reading.objects.filter(set=taken, position_deg=45, piece=1, crush=1).exists()


def test_nothing_typed_adds_nothing(bench: Client, measured: Job) -> None:
    taken = ReadingSet.objects.get(kind=Kind.ACHIEVED)
    answer = send(bench, f"/jobs/{measured.pk}/sets/{taken.pk}/add", {})
    assert answer.status_code == 422
    assert "at least 1" in answer.text


def test_dial_readings_have_no_pieces_to_add(bench: Client, measured: Job) -> None:
    dial = ReadingSet.objects.get(kind=Kind.TOUCH_OFF)
    assert bench.get(f"/jobs/{measured.pk}/sets/{dial.pk}/add").status_code == 404
