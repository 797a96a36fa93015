"""Voids, additions and further rounds: the old value stays, the result gets a new revision."""

from __future__ import annotations

import pytest

from qc.errors import AsFoundNeededAgain, NotAllowed, NothingToVoid, TooFewReadings
from qc.models import Job, JobResult, Kind, Reading, Round, State
from qc.operations import closing, lathe_passes, lathe_work, planning, readings, steps
from qc.units import mm
from tests.make import EVEN, FOUND, NOON, gaps, make_job, make_shop

pytestmark = pytest.mark.django_db
WIDE = {0: "0.60", 90: "0.61", 180: "0.60", 270: "0.59"}


def reading_at(job: Job, kind: Kind, position: int) -> Reading:
    return Reading.objects.get(set__job=job, kind=kind, position_deg=position, voided_at=None)


def test_a_void_keeps_the_old_reading_and_makes_a_revision() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED)
    wrong = reading_at(job, Kind.ACHIEVED, 90)
    readings.void_reading(
        reading=wrong,
        why="Read a turn out",
        replacement=mm("0.52"),
        by=shop.operator,
        at=NOON,
    )
    wrong.refresh_from_db()
    assert str(wrong.value_mm) == "0.510000"
    assert wrong.entered_value == "0.51"
    assert wrong.void_reason == "Read a turn out"
    assert wrong.replaced_by is not None
    assert str(wrong.replaced_by.value_mm) == "0.520000"
    old, new = JobResult.objects.filter(round__job=job).order_by("revision")
    assert (old.is_current, new.is_current) == (False, True)
    assert old.tilt_sin_mm == pytest.approx(0.010)
    assert new.tilt_sin_mm == pytest.approx(0.015)
    with pytest.raises(NothingToVoid):
        readings.void_reading(reading=wrong, why="Again", by=shop.operator, at=NOON)


def test_the_last_reading_of_a_set_cannot_be_voided_away() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.FOUND)
    for position in (0, 90, 180):
        reading = reading_at(job, Kind.AS_FOUND, position)
        readings.void_reading(reading=reading, why="Typo", by=shop.operator, at=NOON)
    with pytest.raises(TooFewReadings):
        readings.void_reading(
            reading=reading_at(job, Kind.AS_FOUND, 270), why="Typo", by=shop.operator, at=NOON
        )
    assert reading_at(job, Kind.AS_FOUND, 270).voided_at is None


def test_after_release_only_a_lead_voids() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.RELEASED)
    wrong = reading_at(job, Kind.ACHIEVED, 0)
    with pytest.raises(NotAllowed):
        readings.void_reading(reading=wrong, why="Typo", by=shop.operator, at=NOON)
    readings.void_reading(reading=wrong, why="Typo", replacement=mm("0.51"), by=shop.lead, at=NOON)
    job.refresh_from_db()
    assert job.state == State.RELEASED
    assert JobResult.objects.filter(round__job=job).count() == 2


def test_an_as_found_correction_reaches_the_result_and_marks_the_plan_stale() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED)
    readings.void_reading(
        reading=reading_at(job, Kind.AS_FOUND, 0),
        why="Typo",
        replacement=mm("1.06"),
        by=shop.operator,
        at=NOON,
    )
    round_ = job.rounds.get()
    assert round_.as_found_set is not None
    assert round_.plan_basis != round_.as_found_set.fingerprint()
    current = round_.results.get(is_current=True)
    # As-found mean rises by 0.04 / 4, so the prediction does and the height error falls.
    assert current.height_error_mm == pytest.approx(-0.01, abs=1e-12)


def test_a_second_piece_is_averaged_and_a_second_crush_takes_the_thinner() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED)
    taken = steps.newest_round(job).achieved_set
    assert taken is not None
    readings.add_readings(
        reading_set=taken,
        readings=gaps({0: "0.52"}, piece=2),
        by=shop.operator,
        at=NOON,
    )
    result = job.rounds.get().results.get(is_current=True)
    assert result.detail["positions"][0]["value_mm"] == pytest.approx(0.51)
    assert result.spread_df == 1
    assert result.spread_mm == pytest.approx(0.02 / 2**0.5)


def test_cut_again_starts_from_the_same_rows() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED, achieved=WIDE)
    first = steps.newest_round(job)
    assert first.results.get().verdict == "cut_again"
    second = closing.cut_again(job=job, by=shop.operator, at=NOON)
    assert second.number == 2
    assert second.as_found_set_id == first.achieved_set_id
    assert job.state == State.FOUND
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    assert float(Round.objects.get(pk=second.pk).planned_depth_mm) == pytest.approx(0.10)


def test_a_void_in_the_first_round_moves_the_second_rounds_result_too() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED, achieved=WIDE)
    closing.cut_again(job=job, by=shop.operator, at=NOON)
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(EVEN),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        why_no_cut="Dial not written down",
        by=shop.operator,
        at=NOON,
    )
    shared = reading_at_first_achieved(job)
    readings.void_reading(
        reading=shared, why="Typo", replacement=mm("0.64"), by=shop.operator, at=NOON
    )
    second = job.rounds.get(number=2).results.get(is_current=True)
    assert second.revision == 2
    assert second.predicted_mm == pytest.approx(0.51, abs=1e-9)


def reading_at_first_achieved(job: Job) -> Reading:
    first = job.rounds.get(number=1).achieved_set
    assert first is not None
    return first.readings.get(position_deg=0, voided_at=None)


def test_a_changed_part_stops_the_plan_until_as_found_is_taken_again() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.FOUND)
    planning.note_parts_changed(job=job, why="New piston", by=shop.operator, at=NOON)
    with pytest.raises(AsFoundNeededAgain):
        planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    readings.record_gap_readings(
        job=job,
        kind=Kind.AS_FOUND,
        readings=gaps(FOUND),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        why_again="New piston",
        by=shop.operator,
        at=NOON,
    )
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    assert job.state == State.PLANNED


def test_a_spring_pass_adds_no_depth_and_paper_is_taken_off() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.SET_UP)
    steps.skip_step(job=job, step=steps.Step.INDICATING, why="Just done", by=shop.operator, at=NOON)
    lathe_work.record_touch_off(
        job=job, dial=mm("2.00"), paper=mm("0.05"), by=shop.operator, at=NOON
    )
    lathe_passes.record_pass(job=job, dial=mm("2.57"), by=shop.operator, at=NOON)
    lathe_passes.record_pass(job=job, dial=mm("2.60"), is_spring=True, by=shop.operator, at=NOON)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(EVEN),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        by=shop.operator,
        at=NOON,
    )
    assert str(job.rounds.get().results.get().depth_cut_mm) == "0.520000"


@pytest.mark.parametrize(
    ("positions", "kind"),
    [({0: "0.50", 180: "0.54"}, "component"), ({0: "0.50"}, "reading")],
    ids=["two opposite", "one"],
)
def test_fewer_positions_hold_no_tilt_vector(positions: dict[int, str], kind: str) -> None:
    shop = make_shop()
    job = make_job(shop, state=State.CUT)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(positions),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        why_fewer="No room",
        by=shop.operator,
        at=NOON,
    )
    result = job.rounds.get().results.get()
    assert result.detail["fit_kind"] == kind
    assert result.tilt_cos_mm is None
    assert result.is_reading_only is (kind == "reading")
    assert result.verdict == "undecided"
