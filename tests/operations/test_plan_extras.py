"""What the plan keeps beside the depth: engine effects, and the correction history suggests."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from qc.errors import BadInput
from qc.lookups.charts.correction import correction_for
from qc.lookups.record.clocking import clocking_tests
from qc.lookups.record.indicating import indicating_of
from qc.lookups.record.jobs import job_record
from qc.models import Cylinder, EngineFamily, Kind, Round, State, Step
from qc.operations import (
    closing,
    correcting,
    engines,
    lathe_passes,
    lathe_work,
    opening,
    planning,
    readings,
    resources,
    setting_up,
    steps,
)
from qc.operations.policy import ensure_policy
from qc.operations.reading_rows import ReadingIn
from qc.units import mm
from tests.make import FOUND, NOON, Shop, gaps, make_job, make_shop

pytestmark = pytest.mark.django_db
LESS_OFF = {0: "0.53", 90: "0.54", 180: "0.53", 270: "0.52"}


def test_the_plan_keeps_the_engine_effects_with_the_trades_own_figures() -> None:
    """Alder 46 with 0.52 off: exhaust 154.3 to 150.1 degrees, trapped ratio 6.17 to 7.06.

    Source: the trade reference's table of invented families (computed there by a second route).
    """
    job = make_job(make_shop(), state=State.PLANNED)
    effects = job.rounds.get().plan["effects"]
    assert effects["before"]["timing"]["exhaust_duration_deg"] == pytest.approx(154.3, abs=0.05)
    assert effects["after"]["timing"]["exhaust_duration_deg"] == pytest.approx(150.1, abs=0.05)
    assert effects["before"]["compression"]["trapped_ratio"] == pytest.approx(6.17, abs=0.005)
    assert effects["after"]["compression"]["trapped_ratio"] == pytest.approx(7.06, abs=0.005)
    assert effects["after"]["squish_peak"]["velocity_ms"] == pytest.approx(17.3, abs=0.05)


def test_a_geometry_that_cannot_be_summed_does_not_stop_the_cut() -> None:
    shop = make_shop()
    EngineFamily.objects.filter(pk=shop.family.pk).update(clearance_cc=Decimal("0.5"))
    shop.family.refresh_from_db()
    job = make_job(shop, state=State.PLANNED)
    round_ = job.rounds.get()
    assert "refused" in round_.plan["effects"]
    assert str(round_.planned_depth_mm) == "0.520000"


def wear_the_edge(shop: Shop, count: int) -> None:
    """Jobs whose gap came out 0.03 mm wider than the dial promised."""
    for number in range(count):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"W-{number}",
            achieved=LESS_OFF,
            at=NOON + timedelta(days=number),
        )


def test_a_correction_is_suggested_only_when_jobs_speak_for_it() -> None:
    shop = make_shop()
    policy = ensure_policy(at=NOON)
    assert correction_for(shop.edge, policy=policy).correction_mm == 0
    wear_the_edge(shop, 12)
    suggested = correction_for(shop.edge, policy=policy)
    assert 0.015 <= suggested.correction_mm <= 0.030
    fresh = resources.fit_edge(
        lathe=shop.lathe,
        slot="1",
        name="Insert 2",
        edge_radius_um=Decimal(20),
        by=shop.lead,
        at=NOON + timedelta(days=30),
    )
    assert correction_for(fresh, policy=policy).correction_mm == 0


def test_a_correction_is_taken_only_by_a_person_and_both_numbers_are_kept() -> None:
    shop = make_shop()
    wear_the_edge(shop, 12)
    job = make_job(shop, state=State.SET_UP, serial="N-1")
    before = job_record(job).newest
    assert before.round.correction_mm == 0
    taken = correcting.choose_correction(job=job, take=True, by=shop.operator, at=NOON)
    assert taken.plan["depth_mm"] == pytest.approx(0.52)
    assert float(taken.correction_mm) == taken.plan["suggested_correction"]["correction_mm"]
    steps.skip_step(job=job, step=Step.INDICATING, why="Just done", by=shop.operator, at=NOON)
    lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=shop.operator, at=NOON)
    targets = job_record(job).newest.dial_targets_mm
    assert targets[-1] == pytest.approx(2.52 + float(taken.correction_mm))
    with pytest.raises(BadInput):
        correcting.choose_correction(
            job=make_job(make_second_edge(shop), state=State.SET_UP, serial="N-2"),
            take=True,
            by=shop.operator,
            at=NOON,
        )


def make_second_edge(shop: Shop) -> Shop:
    edge = resources.fit_edge(
        lathe=shop.lathe,
        slot="2",
        name="Insert 9",
        edge_radius_um=Decimal(20),
        by=shop.lead,
        at=NOON,
    )
    return Shop(**{**shop.__dict__, "edge": edge})


def dial(values: dict[int, str], *, plane: int = 1) -> list[ReadingIn]:
    return [
        ReadingIn(length=mm(value), position_deg=Decimal(at), plane=plane)
        for at, value in values.items()
    ]


def test_indicating_gives_the_tap_and_the_shift_as_a_vector() -> None:
    """0.010 TIR at 0 then 0.010 at 90: no TIR change, yet the axis moved 0.0071 (trade case)."""
    shop = make_shop()
    job = make_job(shop, state=State.SET_UP)
    for kind, values in (
        (Kind.INDICATED_SNUG, {0: "0.005", 90: "0", 180: "-0.005", 270: "0"}),
        (Kind.INDICATED_TIGHT, {0: "0", 90: "0.005", 180: "0", 270: "-0.005"}),
    ):
        lathe_work.record_indicating(
            job=job, kind=kind, readings=dial(values), by=shop.operator, at=NOON
        )
    seen = indicating_of(job.rounds.get(), policy=ensure_policy(at=NOON))
    assert seen.shift is not None
    assert seen.shift.moved_mm == pytest.approx(0.00707, abs=1e-5)
    assert seen.shift.tir_change_mm == pytest.approx(0.0)
    assert seen.tight is not None
    tap = seen.tight.planes[0].tap
    assert tap is not None
    assert tap.toward_deg == pytest.approx(270)
    assert tap.move_mm == pytest.approx(0.005)


def test_two_planes_give_the_lean_of_the_axis() -> None:
    shop = make_shop()
    resources.change_resource(
        resource=shop.fixture,
        by=shop.lead,
        at=NOON,
        expected_version=shop.fixture.version,
        planes_apart_mm=Decimal(50),
    )
    job = make_job(shop, state=State.SET_UP)
    near = {0: "0", 90: "0", 180: "0", 270: "0"}
    far = {0: "0.010", 90: "0", 180: "-0.010", 270: "0"}
    lathe_work.record_indicating(
        job=job,
        kind=Kind.INDICATED_TIGHT,
        readings=[*dial(near), *dial(far, plane=2)],
        by=shop.operator,
        at=NOON,
    )
    seen = indicating_of(job.rounds.get(), policy=ensure_policy(at=NOON))
    assert seen.tight is not None
    assert seen.tight.lean is not None
    assert seen.tight.lean.amount_mrad == pytest.approx(0.200)
    assert seen.tight.lean.face_runout_mm == pytest.approx(0.0128)


def test_two_rounds_at_two_clockings_part_fixture_from_engine() -> None:
    """Turned by 180: the engine's part is half the sum, the fixture's half the difference."""
    shop = make_shop()
    job = make_job(
        shop, state=State.MEASURED, achieved={0: "0.62", 90: "0.60", 180: "0.58", 270: "0.60"}
    )
    closing.cut_again(job=job, by=shop.operator, at=NOON)
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    setting_up.record_set_up(
        job=job,
        fixture=shop.fixture,
        lathe=shop.lathe,
        edge=shop.edge,
        clocking_deg=Decimal(180),
        by=shop.operator,
        at=NOON,
    )
    steps.skip_step(job=job, step=Step.INDICATING, why="Just done", by=shop.operator, at=NOON)
    lathe_work.record_touch_off(job=job, dial=mm("2"), by=shop.operator, at=NOON)
    lathe_passes.record_pass(job=job, dial=mm("2.1"), by=shop.operator, at=NOON)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps({0: "0.49", 90: "0.50", 180: "0.51", 270: "0.50"}),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        by=shop.operator,
        at=NOON + timedelta(hours=5),
    )
    cylinder = Cylinder.objects.get(pk=job.cylinder_id)
    [test] = clocking_tests(cylinder, policy=ensure_policy(at=NOON))
    assert test.run.fixture is not None
    assert test.run.engine is not None
    # Run 1: +0.02 toward 0. Run 2: -0.01. Engine (0.02 - 0.01) / 2, fixture (0.02 + 0.01) / 2.
    assert test.run.engine.a_mm == pytest.approx(0.005)
    assert test.run.fixture.a_mm == pytest.approx(0.015)
    assert test.carried is None  # nobody indicated the fixture in two planes


def test_a_ring_end_that_would_pass_a_window_is_warned_of() -> None:
    shop = make_shop()
    engines.change_family(
        family=shop.family,
        by=shop.lead,
        at=NOON,
        expected_version=shop.family.version,
        ring_end_deg=Decimal(150),
        ring_below_crown_mm=Decimal("2.0"),
    )
    window = engines.WindowIn(
        "left transfer window", Decimal(145), Decimal(20), Decimal("25.7"), Decimal("31.0")
    )
    engines.set_windows(family=shop.family, windows=[window], by=shop.lead, at=NOON)
    job = make_job(shop, state=State.PLANNED)
    codes = [one["code"] for one in job.rounds.get().plan["effects"]["warnings"]]
    assert "ring_end_past_port" in codes
    with pytest.raises(BadInput):
        engines.set_windows(
            family=shop.family,
            windows=[engines.WindowIn("x", Decimal(0), Decimal(1), Decimal(5), Decimal(4))],
            by=shop.lead,
            at=NOON,
        )


def test_material_counts_every_earlier_cut() -> None:
    shop = make_shop()
    first = make_job(shop, state=State.RELEASED)
    again = opening.open_job(cylinder=first.cylinder, by=shop.operator, at=NOON)
    readings.record_gap_readings(
        job=again,
        kind=Kind.AS_FOUND,
        readings=gaps(FOUND),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        by=shop.operator,
        at=NOON,
    )
    planning.plan_round(job=again, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    plan = Round.objects.get(job=again).plan
    assert plan["removed_before_mm"] == pytest.approx(0.52)
    # Flange 7.0 new, 0.52 gone, 5.5 the least: 0.98 left to give.
    assert plan["room_mm"] == pytest.approx(0.98)
