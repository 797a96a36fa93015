"""The target and tolerance of a job: asked about where they look like a slip, put right before the
first cut, and fixed after it; and a job dropped before that cut."""

from __future__ import annotations

from typing import Any

import pytest

from qc.errors import (
    AlreadyCut,
    BadInput,
    ChangedMeanwhile,
    DoubtfulLimits,
    NotAllowed,
    ReasonNeeded,
    TargetUnderFloor,
    WrongState,
)
from qc.lookups.record.jobs import job_record
from qc.lookups.record.progress import BenchStep, next_step
from qc.models import Job, JournalEntry, State
from qc.operations import closing, planning
from qc.operations.limits import correct_limits
from qc.operations.opening import open_job
from qc.units import Length, mm, parse_length
from tests.make import NOON, Shop, make_cylinder, make_job, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def asked(**limits: str) -> dict[str, Length]:
    return {name: parse_length(told, default_unit="mm") for name, told in limits.items()}  # type: ignore[arg-type]


def opened(shop: Shop, **how: Any) -> Job:
    return open_job(cylinder=make_cylinder(shop), by=shop.operator, at=NOON, **how)


def corrected(shop: Shop, job: Job, **how: Any) -> Job:
    return correct_limits(job=job, **{"by": shop.operator, "at": NOON, "why": "Misread", **how})


@pytest.mark.parametrize(
    ("limits", "named"),
    [
        ({"target": "5.0"}, ("target",)),
        ({"target": "1.0"}, ("target",)),
        ({"tol_plus": "0.5"}, ("tol_plus",)),
        ({"tol_minus": "0.005"}, ("tol_minus",)),
        ({"target": "5.0", "tol_plus": "0.5"}, ("target", "tol_plus")),
        ({"target": "0.5 in"}, ("target",)),
    ],
)
def test_limits_far_from_the_familys_are_asked_about(
    shop: Shop, limits: dict[str, str], named: tuple[str, ...]
) -> None:
    """The family's are 0.50, +0.05 and -0.05."""
    with pytest.raises(DoubtfulLimits) as refused:
        opened(shop, **asked(**limits))
    assert refused.value.fields == named
    for told in limits.values():
        assert told.split()[0] in str(refused.value)
    assert not Job.objects.exists()


def test_confirmed_they_are_taken(shop: Shop) -> None:
    cylinder = make_cylinder(shop)
    job = open_job(
        cylinder=cylinder, by=shop.operator, at=NOON, confirm=True, **asked(target="1.2")
    )
    assert job.target_mm == mm("1.2").mm


def test_what_was_confirmed_is_not_asked_about_again(shop: Shop) -> None:
    job = opened(shop, confirm=True, **asked(target="1.2"))
    job = corrected(shop, job, **asked(target="1.2", tol_plus="0.06"))
    assert str(job.tol_plus_mm) == "0.060000"
    with pytest.raises(DoubtfulLimits):
        corrected(shop, job, **asked(target="1.3"))


@pytest.mark.parametrize("limits", [{"target": "0.95"}, {"tol_plus": "0.19", "tol_minus": "0.013"}])
def test_what_one_job_may_well_ask_for_is_not_doubted(shop: Shop, limits: dict[str, str]) -> None:
    opened(shop, **asked(**limits))
    assert Job.objects.exists()


@pytest.mark.parametrize(
    "state", [State.OPEN, State.FOUND, State.PLANNED, State.SET_UP], ids=lambda one: one.value
)
def test_limits_are_corrected_until_the_first_cut(shop: Shop, state: State) -> None:
    job = corrected(shop, make_job(shop, state=state), **asked(target="0.55", tol_plus="0.06"))
    assert (str(job.target_mm), str(job.tol_plus_mm)) == ("0.550000", "0.060000")
    assert (str(job.tol_minus_mm), job.state) == ("0.050000", state)
    line = JournalEntry.objects.get(action="job.limits_corrected")
    assert (line.before["target_mm"], line.after["target_mm"]) == ("0.500000", "0.550000")
    assert line.why == "Misread"


def test_a_plan_made_for_another_target_has_to_be_worked_out_again(shop: Shop) -> None:
    job = corrected(shop, make_job(shop, state=State.SET_UP), **asked(tol_plus="0.06"))
    assert not job_record(job).newest.plan_is_stale
    job = corrected(shop, job, **asked(target="0.55"))
    newest = job_record(job).newest
    assert newest.plan_is_stale
    assert next_step(job.state, newest) == BenchStep.PLAN
    planning.plan_round(job=job, gasket_next=mm("0.50"), by=shop.operator, at=NOON)
    newest = job_record(job).newest
    assert not newest.plan_is_stale
    assert str(newest.round.planned_depth_mm) == "0.470000"


@pytest.mark.parametrize("state", [State.CUT, State.MEASURED])
def test_after_a_cut_limits_stay_and_the_job_is_not_dropped(shop: Shop, state: State) -> None:
    job = make_job(shop, state=state)
    with pytest.raises(AlreadyCut):
        corrected(shop, job, **asked(target="0.55"))
    with pytest.raises(AlreadyCut):
        closing.drop(job=job, why="By mistake", by=shop.operator, at=NOON)
    job.refresh_from_db()
    assert (str(job.target_mm), job.state) == ("0.500000", state)


def test_a_second_round_is_past_the_first_cut(shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    closing.cut_again(job=job, why="Customer wants less", by=shop.operator, at=NOON)
    with pytest.raises(AlreadyCut):
        corrected(shop, job, **asked(target="0.45"))


@pytest.mark.parametrize(
    ("how", "refusal"),
    [
        ({"target": "0.55", "why": " "}, ReasonNeeded),
        ({"target": "0.50"}, BadInput),
        ({"target": "0.40"}, TargetUnderFloor),
        ({"target": "5.0"}, DoubtfulLimits),
        ({"target": "0.55", "expected_version": 99}, ChangedMeanwhile),
    ],
)
def test_a_correction_is_refused(shop: Shop, how: dict[str, Any], refusal: type[Exception]) -> None:
    job = make_job(shop, state=State.FOUND)
    limits = asked(target=how.pop("target"))
    with pytest.raises(refusal):
        corrected(shop, job, **limits, **how)
    job.refresh_from_db()
    assert str(job.target_mm) == "0.500000"


def test_a_viewer_neither_corrects_nor_drops(shop: Shop) -> None:
    job = make_job(shop)
    with pytest.raises(NotAllowed):
        corrected(shop, job, by=shop.viewer, **asked(target="0.55"))
    with pytest.raises(NotAllowed):
        closing.drop(job=job, why="Twice", by=shop.viewer, at=NOON)


def test_an_operator_drops_a_job_opened_by_mistake(shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    with pytest.raises(ReasonNeeded):
        closing.drop(job=job, why=" ", by=shop.operator, at=NOON)
    closing.drop(job=job, why="Opened twice", by=shop.operator, at=NOON)
    job.refresh_from_db()
    assert (job.state, job.closing_reason) == (State.DROPPED, "Opened twice")
    assert (job.closed_by, job.is_closed) == (shop.operator.person, True)
    assert job_record(job).newest.as_found is not None
    with pytest.raises(WrongState):
        closing.scrap(job=job, why="Cracked", by=shop.lead, at=NOON)
