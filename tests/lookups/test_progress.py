"""The step to do next, from the state and the record of a job."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from qc.lookups.pages.today import NEXT_STEP, today_page
from qc.lookups.record.jobs import job_record
from qc.lookups.record.progress import (
    BenchStep,
    Standing,
    next_step,
    passes_left,
    progress,
)
from qc.models import Job, Reading, State, Step
from qc.operations import closing, lathe_passes, lathe_work, planning, readings, steps
from qc.units import mm
from tests.make import NOON, Shop, make_job, make_shop

Todo = Callable[[Job], BenchStep | None]

pytestmark = pytest.mark.django_db


def standings(job: Job) -> dict[BenchStep, Standing]:
    job.refresh_from_db()
    return {one.step: one.standing for one in progress(job_record(job))}


def test_a_dropped_job_has_done_what_it_did_and_no_more(shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    closing.drop(job=job, why="Opened twice", by=shop.operator, at=NOON)
    done = {BenchStep.AS_FOUND, BenchStep.PLAN}
    assert standings(job) == {
        step: Standing.DONE if step in done else Standing.NOT_DONE for step in BenchStep
    }


def test_a_job_scrapped_before_it_is_measured_has_no_verdict(shop: Shop) -> None:
    cut = make_job(shop, state=State.CUT)
    closing.scrap(job=cut, why="Cracked", by=shop.lead, at=NOON)
    assert standings(cut)[BenchStep.VERDICT] == Standing.NOT_DONE
    judged = make_job(shop, state=State.RELEASED, serial="C-2")
    assert standings(judged)[BenchStep.VERDICT] == Standing.DONE


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def todo(shop: Shop) -> Todo:
    """What a job's page says is next, which today's page says as well."""

    def step_of(job: Job) -> BenchStep | None:
        job.refresh_from_db()
        step = next_step(job.state, job_record(job).newest)
        at_work = today_page(now=NOON, today=NOON.date(), by=shop.viewer).at_work
        told = [one.step for one in at_work if job.pk in [row.number for row in one.jobs]]
        assert told == ([step] if step in NEXT_STEP else [])
        return step

    return step_of


@pytest.mark.parametrize(
    ("state", "step"),
    [
        (State.OPEN, BenchStep.AS_FOUND),
        (State.FOUND, BenchStep.PLAN),
        (State.PLANNED, BenchStep.SET_UP),
        (State.SET_UP, BenchStep.INDICATE),
        (State.CUT, BenchStep.ACHIEVED),
        (State.MEASURED, BenchStep.VERDICT),
        (State.RELEASED, None),
    ],
)
def test_the_next_step_follows_the_state(
    shop: Shop, state: State, step: BenchStep | None, todo: Todo
) -> None:
    assert todo(make_job(shop, state=state)) == step


def test_at_the_lathe_indicating_comes_first_then_touch_off_then_passes(
    shop: Shop, todo: Todo
) -> None:
    job = make_job(shop, state=State.SET_UP)
    steps.skip_step(job=job, step=Step.INDICATING, why="Done", by=shop.operator, at=NOON)
    assert todo(job) == BenchStep.TOUCH_OFF
    lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=shop.operator, at=NOON)
    assert todo(job) == BenchStep.PASSES


def test_passes_are_left_until_the_dial_is_within_a_chip_of_the_last(
    shop: Shop, todo: Todo
) -> None:
    """Planned 0.235, 0.235, 0.050 from 2.00, with an edge that cuts no less than 0.006: 2.513 is
    not yet 2.520, 2.515 is."""
    job = make_job(shop, state=State.SET_UP)
    by, at = shop.operator, NOON
    steps.skip_step(job=job, step=Step.INDICATING, why="Done", by=by, at=at)
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=by, at=at)
    lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=by, at=at)
    assert passes_left(job_record(job).newest) == 3
    for dial, left in [("2.235", 2), ("2.513", 1), ("2.515", 0)]:
        lathe_passes.record_pass(job=job, dial=mm(dial), by=by, at=at)
        assert passes_left(job_record(job).newest) == left
    assert todo(job) == BenchStep.ACHIEVED


def test_a_changed_part_goes_back_to_as_found(shop: Shop, todo: Todo) -> None:
    job = make_job(shop, state=State.PLANNED)
    planning.note_parts_changed(job=job, why="New piston", by=shop.operator, at=NOON)
    assert todo(job) == BenchStep.AS_FOUND


@pytest.mark.parametrize("state", [State.PLANNED, State.SET_UP])
def test_a_plan_the_readings_left_behind_comes_before_the_cut(
    shop: Shop, state: State, todo: Todo
) -> None:
    job = make_job(shop, state=state)
    wrong = Reading.objects.get(set__job=job, position_deg=0)
    readings.void_reading(
        reading=wrong, why="Misread", replacement=mm("0.90"), by=shop.operator, at=NOON
    )
    assert todo(job) == BenchStep.PLAN
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    assert todo(job) != BenchStep.PLAN


def test_a_second_round_begins_with_its_plan(shop: Shop, todo: Todo) -> None:
    job = make_job(shop, state=State.MEASURED)
    closing.cut_again(job=job, why="Closer", by=shop.operator, at=NOON)
    assert todo(job) == BenchStep.PLAN


def test_steps_stand_as_done_skipped_next_or_later(shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    standing = {row.step: row.standing for row in progress(job_record(job))}
    assert standing == {
        BenchStep.AS_FOUND: Standing.DONE,
        BenchStep.PLAN: Standing.DONE,
        BenchStep.SET_UP: Standing.DONE,
        BenchStep.INDICATE: Standing.SKIPPED,
        BenchStep.TOUCH_OFF: Standing.DONE,
        BenchStep.PASSES: Standing.DONE,
        BenchStep.ACHIEVED: Standing.NEXT,
        BenchStep.VERDICT: Standing.LATER,
    }


def test_only_what_the_state_allows_is_open(shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    assert {row.step for row in progress(job_record(job)) if row.is_open} == {
        BenchStep.PASSES,
        BenchStep.ACHIEVED,
    }
