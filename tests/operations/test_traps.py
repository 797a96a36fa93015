"""Ways a record could quietly go wrong: each refused, or followed to the right number."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from qc.errors import BadInput, DeeperThanPlanned, DoubtfulUnit, WrongState
from qc.lookups.charts.error_charts import error_chart
from qc.lookups.record.depth import touch_off_mm
from qc.lookups.record.jobs import job_record
from qc.lookups.record.material import room_mm
from qc.lookups.record.progress import passes_left
from qc.models import Channel, Job, Kind, Reading, ReadingSet, Round, ServiceKind, State, Step
from qc.operations import (
    closing,
    correcting,
    lathe_passes,
    lathe_work,
    planning,
    policy,
    readings,
    resources,
    setting_up,
    steps,
)
from qc.units import Unit, mm, parse_length
from tests.make import NOON, Shop, gaps, make_job, make_shop
from tests.operations.test_plan_extras import wear_the_edge

pytestmark = pytest.mark.django_db
WIDE = {0: "0.60", 90: "0.61", 180: "0.60", 270: "0.59"}


def set_up(shop: Shop, job: Job, edge: object) -> Round:
    return setting_up.record_set_up(
        job=job,
        fixture=shop.fixture,
        lathe=shop.lathe,
        edge=edge,  # type: ignore[arg-type]
        clocking_deg=Decimal(0),
        by=shop.operator,
        at=NOON,
    )


def ready_to_touch_off(shop: Shop) -> Job:
    job = make_job(shop, state=State.SET_UP)
    steps.skip_step(job=job, step=Step.INDICATING, why="Just done", by=shop.operator, at=NOON)
    return job


def test_a_correction_does_not_follow_the_job_to_another_edge() -> None:
    shop = make_shop()
    wear_the_edge(shop, 12)
    job = make_job(shop, state=State.SET_UP, serial="N-1")
    correcting.choose_correction(job=job, take=True, by=shop.operator, at=NOON)
    fresh = resources.fit_edge(
        lathe=shop.lathe, slot="2", name="New", edge_radius_um=Decimal(20), by=shop.lead, at=NOON
    )
    round_ = set_up(shop, job, fresh)
    assert round_.correction_mm == 0
    assert round_.plan["corrected_passes_mm"] is None


def test_a_correction_that_leaves_nothing_to_cut_shows_no_targets() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.SET_UP)
    round_ = job.rounds.get()
    round_.plan = {**round_.plan, "corrected_passes_mm": []}
    round_.save(update_fields=["plan"])
    steps.skip_step(job=job, step=Step.INDICATING, why="Just done", by=shop.operator, at=NOON)
    lathe_work.record_touch_off(job=job, dial=mm("2"), by=shop.operator, at=NOON)
    assert job_record(job).newest.dial_targets_mm == ()


def test_a_flange_once_measured_counts_in_every_later_round() -> None:
    """Measured 6.3 before 0.52 comes off: 5.78 is left, 0.28 over the least of 5.5."""
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED, achieved=WIDE)
    Round.objects.filter(job=job).update(flange_mm=Decimal("6.3"))
    second = closing.cut_again(job=job, by=shop.operator, at=NOON)
    assert room_mm(second) == Decimal("0.28")
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    assert Round.objects.get(pk=second.pk).plan["room_mm"] == pytest.approx(0.28)


def test_a_pass_that_the_paper_swallows_is_refused() -> None:
    shop = make_shop()
    job = ready_to_touch_off(shop)
    lathe_work.record_touch_off(
        job=job, dial=mm("2.00"), paper=mm("0.05"), by=shop.operator, at=NOON
    )
    with pytest.raises(BadInput, match="no metal would come off"):
        lathe_passes.record_pass(job=job, dial=mm("2.02"), by=shop.operator, at=NOON)


def test_a_dial_in_another_unit_is_refused_where_it_would_cut_through() -> None:
    shop = make_shop()
    job = ready_to_touch_off(shop)
    lathe_work.record_touch_off(job=job, dial=mm("0"), by=shop.operator, at=NOON)
    inches = parse_length("0.52 in", default_unit=Unit.MM)
    with pytest.raises(BadInput, match="Inch, thou or mm"):
        lathe_passes.record_pass(job=job, dial=inches, by=shop.operator, at=NOON)


def touch_off_reading(job: Job, *, newest: bool) -> Reading:
    found = Reading.objects.filter(set__job=job, kind=Kind.TOUCH_OFF).order_by("pk")
    reading = found.last() if newest else found.first()
    assert reading is not None
    return reading


def test_a_touch_off_put_right_beyond_the_last_pass_is_refused() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.CUT)
    with pytest.raises(BadInput, match="beyond the last pass"):
        readings.void_reading(
            reading=touch_off_reading(job, newest=True),
            why="Misread",
            replacement=mm("2.60"),
            by=shop.operator,
            at=NOON,
        )


def test_putting_an_older_touch_off_right_leaves_the_newer_in_force() -> None:
    shop = make_shop()
    job = ready_to_touch_off(shop)
    for dial in ("2.00", "2.10"):
        lathe_work.record_touch_off(job=job, dial=mm(dial), by=shop.operator, at=NOON)
    readings.void_reading(
        reading=touch_off_reading(job, newest=False),
        why="Misread",
        replacement=mm("2.01"),
        by=shop.operator,
        at=NOON,
    )
    assert touch_off_mm(job.rounds.get()) == pytest.approx(2.10)


def test_a_touch_off_is_not_added_to() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED)
    dial = ReadingSet.objects.get(job=job, kind=Kind.TOUCH_OFF)
    with pytest.raises(BadInput, match="void the wrong one"):
        readings.add_readings(
            reading_set=dial, readings=gaps({0: "2.3"}, piece=2), by=shop.operator, at=NOON
        )


def test_an_operator_who_saw_the_job_before_its_release_cannot_void_after() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED)
    reading = Reading.objects.filter(set__job=job, kind=Kind.ACHIEVED).first()
    assert reading is not None
    assert reading.set.job.state == State.MEASURED  # as the operator's page had it
    closing.release(job=Job.objects.get(pk=job.pk), by=shop.lead, at=NOON)
    with pytest.raises(WrongState):
        readings.void_reading(reading=reading, why="Typo", by=shop.operator, at=NOON)


def test_calibration_is_judged_by_the_shops_own_date() -> None:
    """17:00 on the due day in a shop eight hours behind UTC is the next day there."""
    shop = make_shop()
    policy.change_policy(by=shop.lead, at=NOON, why="Moved", time_zone="Etc/GMT+8")
    due_evening = datetime(2027, 2, 1, 1, 0, tzinfo=UTC)
    job = make_job(shop, at=due_evening)
    taken = readings.record_gap_readings(
        job=job,
        kind=Kind.AS_FOUND,
        readings=gaps(WIDE),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        by=shop.operator,
        at=due_evening,
        confirm=True,
    )
    assert not taken.gauge_overdue


def test_a_lathe_serviced_before_every_job_is_too_thin_to_chart_and_fails_nothing() -> None:
    shop = make_shop()
    for number in range(13):
        at = NOON + timedelta(days=number)
        make_job(shop, state=State.MEASURED, serial=f"S-{number}", at=at)
        resources.record_service(
            subject=shop.lathe,
            kind=ServiceKind.REPAIRED,
            by=shop.lead,
            at=at + timedelta(hours=6),
        )
    chart = error_chart(Channel.HEIGHT_ERROR, lathe=shop.lathe)
    assert chart.individuals is None


def test_a_pass_well_beyond_the_plan_is_asked_about() -> None:
    shop = make_shop()
    job = ready_to_touch_off(shop)
    lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=shop.operator, at=NOON)
    with pytest.raises(DeeperThanPlanned, match="deeper than planned"):
        lathe_passes.record_pass(job=job, dial=mm("2.62"), by=shop.operator, at=NOON)
    lathe_passes.record_pass(job=job, dial=mm("2.62"), by=shop.operator, at=NOON, confirm=True)


def test_a_slip_of_unit_is_asked_about_before_the_solder_is_blamed() -> None:
    shop = make_shop()
    job = make_job(shop)
    with pytest.raises(DoubtfulUnit):
        readings.record_gap_readings(
            job=job,
            kind=Kind.AS_FOUND,
            readings=gaps({0: "1.02", 90: "40", 180: "1.02", 270: "1.01"}),
            gauge=shop.gauge,
            base_gasket=mm("0.50"),
            solder=mm("1.5"),
            by=shop.operator,
            at=NOON,
        )


def test_a_corrected_plan_counts_its_own_passes() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.SET_UP)
    round_ = job.rounds.get()
    round_.plan = {**round_.plan, "corrected_passes_mm": [0.2, 0.2, 0.1, 0.05]}
    round_.save(update_fields=["plan"])
    steps.skip_step(job=job, step=Step.INDICATING, why="Just done", by=shop.operator, at=NOON)
    lathe_work.record_touch_off(job=job, dial=mm("2"), by=shop.operator, at=NOON)
    assert passes_left(job_record(job).newest) == 4
