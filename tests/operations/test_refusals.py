"""Each bad input gets its own code and a sentence that says what to do, and writes nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from qc.errors import (
    AlreadyThere,
    BadInput,
    ChangedMeanwhile,
    DoubtfulUnit,
    GapWiderThanSolder,
    GaugeOverdue,
    MissingPosition,
    NegativeLength,
    NotAllowed,
    ReasonNeeded,
    Retired,
    ShopError,
    StepMissing,
    TargetUnderFloor,
    WrongState,
)
from qc.models import Job, JournalEntry, Kind, Reading, ReadingSet, Role, State
from qc.operations import (
    closing,
    lathe_passes,
    lathe_work,
    opening,
    policy,
    readings,
    resources,
    setting_up,
)
from qc.units import Unit, mm
from tests.make import EVEN, FOUND, NOON, Shop, gaps, make_cylinder, make_job, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def take(shop: Shop, job: Job, kind: Kind, values: object = None, **changes: object) -> ReadingSet:
    told: dict[str, object] = {
        "job": job,
        "kind": kind,
        "readings": gaps(FOUND) if values is None else values,
        "gauge": shop.gauge,
        "base_gasket": mm("0.50"),
        "by": shop.operator,
        "at": NOON,
    }
    return readings.record_gap_readings(**{**told, **changes})


def refused(error: type[ShopError], call: Callable[[], object]) -> ShopError:
    """The refusal, after checking that nothing at all was written."""
    before = (JournalEntry.objects.count(), Reading.objects.count(), ReadingSet.objects.count())
    with pytest.raises(error) as caught:
        call()
    after = (JournalEntry.objects.count(), Reading.objects.count(), ReadingSet.objects.count())
    assert after == before
    return caught.value


@pytest.mark.parametrize(
    ("values", "unit", "field"),
    [
        ({0: "0.040", 90: "0.041", 180: "0.040", 270: "0.039"}, Unit.MM, "at_0"),
        ({0: "40", 90: "41", 180: "40", 270: "39"}, Unit.MM, "at_0"),
        ({0: "1.02", 90: "40.1", 180: "1.03", 270: "1.01"}, Unit.MM, "at_90"),
        ({0: "1.02", 90: "1.03", 180: "1.02", 270: "1.01"}, Unit.INCH, "at_0"),
    ],
    ids=["inch as mm", "thou as mm", "one thou among mm", "mm as inch"],
)
def test_doubtful_unit(shop: Shop, values: dict[int, str], unit: Unit, field: str) -> None:
    job = make_job(shop)
    typed = gaps(values, unit=unit)
    error = refused(DoubtfulUnit, lambda: take(shop, job, Kind.AS_FOUND, typed))
    assert error.fields == (field,)
    assert "A slip of the decimal point, or another unit (inch, thou or mm)?" in str(error)


def test_a_confirmed_unit_is_taken_and_the_confirmation_kept(shop: Shop) -> None:
    job = make_job(shop)
    typed = gaps({0: "0.10", 90: "0.11", 180: "0.10", 270: "0.12"})
    taken = take(shop, job, Kind.AS_FOUND, typed, confirm=True)
    assert all(one.unit_confirmed for one in taken.readings.all())


def test_a_whole_set_far_off_the_prediction_is_doubtful(shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    typed = gaps({0: "1.27", 90: "1.28", 180: "1.27", 270: "1.26"})
    refused(DoubtfulUnit, lambda: take(shop, job, Kind.ACHIEVED, typed))


def test_negative_gap(shop: Shop) -> None:
    job = make_job(shop)
    typed = gaps({**FOUND, 90: "-1.03"})
    error = refused(NegativeLength, lambda: take(shop, job, Kind.AS_FOUND, typed))
    assert error.fields == ("at_90",)
    assert "check the sign" in str(error)


def test_missing_position(shop: Shop) -> None:
    job = make_job(shop)
    typed = gaps({0: "1.02", 180: "1.02"})
    error = refused(MissingPosition, lambda: take(shop, job, Kind.AS_FOUND, typed))
    assert "90 and 270" in str(error)
    taken = take(shop, job, Kind.AS_FOUND, typed, why_fewer="No room across the pin")
    assert taken.why_fewer == "No room across the pin"


def test_gauge_past_calibration(shop: Shop) -> None:
    late = NOON + timedelta(days=400)
    job = make_job(shop)
    error = refused(GaugeOverdue, lambda: take(shop, job, Kind.AS_FOUND, at=late))
    assert "2027-01-31" in str(error)
    policy.change_policy(
        by=shop.lead, at=NOON, why="Mark, do not stop", overdue_gauge_is_refused=False
    )
    assert take(shop, job, Kind.AS_FOUND, at=late).gauge_overdue


def test_the_last_day_of_calibration_still_counts(shop: Shop) -> None:
    due = NOON.replace(year=2027, month=1, day=31)
    assert not take(shop, make_job(shop), Kind.AS_FOUND, at=due).gauge_overdue


def test_retired_fixture(shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    resources.retire(resource=shop.fixture, by=shop.lead, at=NOON, why="Bent")
    error = refused(
        Retired,
        lambda: setting_up.record_set_up(
            job=job,
            fixture=shop.fixture,
            lathe=shop.lathe,
            edge=shop.edge,
            clocking_deg=Decimal(0),
            by=shop.operator,
            at=NOON,
        ),
    )
    assert "Plug A is retired" in str(error)


def test_achieved_without_a_cut_and_without_a_reason(shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    typed = gaps(EVEN)
    error = refused(StepMissing, lambda: take(shop, job, Kind.ACHIEVED, typed))
    assert error.fields == ("why_no_cut",)
    take(shop, job, Kind.ACHIEVED, typed, why_no_cut="Cut elsewhere, depth not noted")
    result = job.rounds.get().results.get()
    assert result.depth_is_planned
    assert result.height_error_mm is None


def test_target_under_floor(shop: Shop) -> None:
    cylinder = make_cylinder(shop)
    error = refused(
        TargetUnderFloor,
        lambda: opening.open_job(cylinder=cylinder, by=shop.operator, at=NOON, target=mm("0.40")),
    )
    assert "never cut below the maker's limit" in str(error)


def test_two_people_saving_the_same_step(shop: Shop) -> None:
    job = make_job(shop)
    seen = job.version
    take(shop, job, Kind.AS_FOUND, expected_version=seen)
    error = refused(
        ChangedMeanwhile,
        lambda: take(shop, job, Kind.AS_FOUND, expected_version=seen, why_again="Mine"),
    )
    assert "Nothing of yours was saved" in str(error)


def test_a_gap_as_wide_as_the_solder(shop: Shop) -> None:
    job = make_job(shop)
    refused(GapWiderThanSolder, lambda: take(shop, job, Kind.AS_FOUND, solder=mm("1.03")))


def test_taking_a_set_again_needs_a_reason(shop: Shop) -> None:
    job = make_job(shop, state=State.FOUND)
    refused(ReasonNeeded, lambda: take(shop, job, Kind.AS_FOUND))


def test_the_same_piece_and_crush_twice(shop: Shop) -> None:
    job = make_job(shop)
    typed = [*gaps(FOUND), *gaps({90: "1.04"})]
    error = refused(AlreadyThere, lambda: take(shop, job, Kind.AS_FOUND, typed))
    assert "at 90 degrees" in str(error)


def test_a_step_out_of_turn(shop: Shop) -> None:
    job = make_job(shop, state=State.FOUND)
    error = refused(
        WrongState,
        lambda: lathe_passes.record_pass(job=job, dial=mm("2.2"), by=shop.operator, at=NOON),
    )
    assert "as-found taken" in str(error)


def test_a_pass_before_touch_off_depth(shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    refused(
        BadInput,
        lambda: lathe_passes.record_pass(job=job, dial=mm("1.9"), by=shop.operator, at=NOON),
    )


def test_touch_off_wants_indicating_or_a_reason(shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    refused(
        StepMissing,
        lambda: lathe_work.record_touch_off(job=job, dial=mm("2"), by=shop.operator, at=NOON),
    )


def test_release_against_the_verdict_is_a_concession(shop: Shop) -> None:
    wide = {0: "0.60", 90: "0.61", 180: "0.60", 270: "0.59"}
    job = make_job(shop, state=State.MEASURED, achieved=wide)
    refused(ReasonNeeded, lambda: closing.release(job=job, by=shop.lead, at=NOON))
    closing.concede(job=job, why="Customer accepts", by=shop.lead, at=NOON)
    assert job.state == State.CONCEDED


def test_an_operator_may_not_release(shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    error = refused(NotAllowed, lambda: closing.release(job=job, by=shop.operator, at=NOON))
    assert "Ask a lead" in str(error)


def test_a_viewer_may_not_record(shop: Shop) -> None:
    job = make_job(shop)
    error = refused(NotAllowed, lambda: take(shop, job, Kind.AS_FOUND, by=shop.viewer))
    assert str(Role.VIEWER) in str(error)
