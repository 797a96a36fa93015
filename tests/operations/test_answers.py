"""What indicating and a clocking test said: kept with the round, renewed with its readings."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import transaction

from qc.models import Job, JournalEntry, Kind, Reading, Round, State
from qc.operations import lathe_passes, lathe_work, policy, readings, resources, setting_up, steps
from qc.operations.answers import FORMULA
from qc.units import mm
from tests.clocked import clocked_job, dial, indicate, two_planes
from tests.make import NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    two_planes(shop)
    return shop


@pytest.fixture
def clocked(shop: Shop) -> Job:
    return clocked_job(shop)


def newest(job: Job) -> Round:
    return Round.objects.filter(job=job).latest("number")


def test_indicating_is_kept_as_answered(shop: Shop) -> None:
    """Off by 0.010 in plane 2 alone: 0.2 mrad, which over 2 x 19.4 mm is 0.00776 at most."""
    job = make_job(shop, state=State.SET_UP)
    indicate(shop, job, Kind.INDICATED_SNUG)
    indicate(shop, job, Kind.INDICATED_TIGHT)
    kept = newest(job).indicated
    assert (kept["formula"], kept["revision"], kept["at"]) == (FORMULA, 2, NOON.isoformat())
    assert kept["limit_mm"] == pytest.approx(0.0127)
    near, far = kept["tight"]["planes"]
    assert near["standing"] == "within"
    assert (far["standing"], far["runout"]["tir_mm"]) == ("over", pytest.approx(0.020))
    assert far["runout"]["eccentricity"]["high_deg"] == pytest.approx(0)
    assert far["runout"]["form_left_mm"] == pytest.approx(0)
    assert far["tap"]["toward_deg"] == pytest.approx(180)
    assert kept["tight"]["lean"]["gap_bound_mm"] == pytest.approx(0.00776)
    assert kept["shift"]["moved_mm"] == pytest.approx(0)
    noted = JournalEntry.objects.filter(job=job, action="round.indicated").latest("pk")
    assert noted.after["answer"] == kept
    assert noted.before["answer"]["tight"] is None


def test_a_later_policy_leaves_what_was_answered_alone(shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    indicate(shop, job, Kind.INDICATED_TIGHT)
    policy.change_policy(by=shop.lead, at=NOON, why="Wider", indicating_limit_mm=Decimal("0.05"))
    assert newest(job).indicated["limit_mm"] == pytest.approx(0.0127)


def test_a_void_dial_reading_renews_the_answer_in_the_same_transaction(shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    indicate(shop, job, Kind.INDICATED_TIGHT)
    wrong = Reading.objects.get(set__round=newest(job), plane=2, position_deg=0)
    told = {"reading": wrong, "why": "Misread", "replacement": mm("0.002")}
    with transaction.atomic():
        readings.void_reading(by=shop.operator, at=NOON, **told)
        assert newest(job).indicated["tight"]["planes"][1]["runout"]["tir_mm"] == pytest.approx(
            0.012
        )
        transaction.set_rollback(True)
    assert newest(job).indicated["tight"]["planes"][1]["runout"]["tir_mm"] == pytest.approx(0.020)
    readings.void_reading(by=shop.operator, at=NOON, **told)
    assert newest(job).indicated["revision"] == 2


def test_readings_that_hold_no_circle_are_kept_with_the_reason(shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    lathe_work.record_indicating(
        job=job,
        kind=Kind.INDICATED_TIGHT,
        readings=dial({0: "0.01", 180: "0"}),
        by=shop.operator,
        at=NOON,
    )
    [plane] = newest(job).indicated["tight"]["planes"]
    assert (plane["runout"], plane["standing"]) == (None, None)
    assert plane["refused"]


def test_another_fixture_renews_what_indicating_said(shop: Shop) -> None:
    """The lean was worked out with the first fixture's planes; the other has none on record."""
    job = make_job(shop, state=State.SET_UP)
    indicate(shop, job, Kind.INDICATED_TIGHT)
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    setting_up.record_set_up(
        job=job,
        fixture=other,
        lathe=shop.lathe,
        edge=shop.edge,
        clocking_deg=None,
        by=shop.operator,
        at=NOON,
    )
    assert newest(job).indicated["tight"]["lean"] is None


def test_a_clocking_test_is_kept_with_its_second_run(clocked: Job) -> None:
    """+0.02 then -0.01 toward 0: engine 0.005, fixture 0.015. The lean could make 0.00388 of it
    in amplitude, so the share comes out near 3.9: told, and the reader sees its uncertainty."""
    first, second = Round.objects.filter(job=clocked).order_by("number")
    kept = second.clocking_test
    assert first.clocking_test is None
    assert (kept["first"]["round"], kept["second"]["round"], kept["turn_deg"]) == (1, 2, 180)
    assert kept["engine"]["a_mm"] == pytest.approx(0.005)
    assert kept["fixture_part"]["a_mm"] == pytest.approx(0.015)
    assert kept["carried"]["overall"]["value"] == pytest.approx(0.015 / 0.00388, rel=1e-3)
    assert kept["formula"] == FORMULA


@pytest.mark.parametrize(("number", "engine_mm"), [(1, 0.010), (2, 0.0025)])
def test_a_void_gap_in_either_run_renews_the_clocking_test(
    shop: Shop, clocked: Job, number: int, engine_mm: float
) -> None:
    """The engine's part is half the sum: 0.64 for 0.62 lifts the first run to +0.03 beside the
    second's -0.01; 0.48 for 0.49 takes the second to -0.015 beside +0.02."""
    round_ = Round.objects.get(job=clocked, number=number)
    wrong = Reading.objects.get(set=round_.achieved_set, position_deg=0)
    right = {1: "0.64", 2: "0.48"}[number]
    readings.void_reading(
        reading=wrong, why="Misread", replacement=mm(right), by=shop.operator, at=NOON
    )
    kept = newest(clocked).clocking_test
    assert kept["engine"]["a_mm"] == pytest.approx(engine_mm)
    assert kept["revision"] > 1
    assert kept[{1: "first", 2: "second"}[number]]["revision"] == 2


def test_a_void_dial_reading_renews_the_share_that_reached_the_gap(
    shop: Shop, clocked: Job
) -> None:
    before = newest(clocked).clocking_test["carried"]["overall"]["value"]
    for at, value in ((0, "0.020"), (180, "-0.020")):
        wrong = Reading.objects.get(set__round=newest(clocked), plane=2, position_deg=at)
        readings.void_reading(
            reading=wrong, why="Misread", replacement=mm(value), by=shop.operator, at=NOON
        )
    after = newest(clocked).clocking_test["carried"]["overall"]["value"]
    assert after == pytest.approx(before / 2)


def test_a_pass_voided_away_takes_the_clocking_test_with_it(shop: Shop, clocked: Job) -> None:
    """Without a pass the depth is only planned, and the run was no full facing cut."""
    [taken] = newest(clocked).passes.filter(voided_at=None)
    lathe_passes.void_pass(taken=taken, why="Never taken", by=shop.operator, at=NOON)
    assert newest(clocked).clocking_test is None


def test_skipped_indicating_keeps_nothing(shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    steps.skip_step(job=job, step="indicating", why="Today", by=shop.operator, at=NOON)
    assert newest(job).indicated is None
