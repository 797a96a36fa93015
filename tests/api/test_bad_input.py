"""Each bad input a bench can send: its own code, its own sentence, and nothing written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest

from qc.models import Gauge, Job, JournalEntry, ReadingSet, Round, State
from qc.operations import resources
from tests.api.bench import Bench, gaps, mm
from tests.make import EVEN, FOUND, NOON, Shop, make_job


@dataclass(frozen=True)
class Bad:
    """A request, the refusal it must meet, and what mends it (nothing: no input can)."""

    state: State
    step: str
    body: Callable[[Shop], dict[str, Any]]
    status: int
    code: str
    says: str
    fields: list[str]
    mended_by: dict[str, Any] | None = None


def readings_with(values: dict[int, str], unit: str = "mm") -> Callable[[Shop], dict[str, Any]]:
    return lambda shop: {
        "gauge": shop.gauge.pk,
        "base_gasket": mm("0.50"),
        "readings": gaps(values, unit),
    }


def set_up(shop: Shop) -> dict[str, Any]:
    return {
        "fixture": shop.fixture.pk,
        "lathe": shop.lathe.pk,
        "edge": shop.edge.pk,
        "clocking_deg": 90,
    }


def overdue(shop: Shop) -> dict[str, Any]:
    Gauge.objects.filter(pk=shop.gauge.pk).update(calibration_due=NOON - timedelta(days=1000))
    return readings_with(FOUND)(shop)


def retired(shop: Shop) -> dict[str, Any]:
    resources.retire(resource=shop.fixture, why="Worn", by=shop.lead, at=NOON)
    return set_up(shop)


BAD = {
    "a doubtful unit": Bad(
        State.OPEN,
        "as-found",
        readings_with({0: "1.02", 90: "1.03", 180: "40.2", 270: "1.01"}),
        422,
        "unit_doubtful",
        "40.2 mm is far off: about 1.020 mm was expected.",
        ["readings.2.length"],
        mended_by={"confirm": True},
    ),
    "a whole set in another unit": Bad(
        State.OPEN,
        "as-found",
        readings_with({0: "40.2", 90: "40.5", 180: "40.2", 270: "39.8"}),
        422,
        "unit_doubtful",
        "another unit (inch, thou or mm)?",
        ["readings.0.length"],
    ),
    "a negative gap": Bad(
        State.OPEN,
        "as-found",
        readings_with({0: "1.02", 90: "-1.03", 180: "1.02", 270: "1.01"}),
        422,
        "negative_length",
        "A gap cannot be negative; got -1.03 mm.",
        ["readings.1.length"],
    ),
    "a gap wider than any": Bad(
        State.OPEN,
        "as-found",
        lambda shop: {**readings_with(dict.fromkeys(FOUND, "50.01"))(shop), "confirm": True},
        422,
        "length_too_large",
        "A gap of 50.01 mm is beyond 50.000 mm.",
        ["readings.0.length"],
    ),
    "a gap no thinner than the solder": Bad(
        State.OPEN,
        "as-found",
        lambda shop: {**readings_with(FOUND)(shop), "solder": mm("1.0")},
        422,
        "gap_wider_than_solder",
        "so nothing was crushed",
        ["readings.0.length"],
    ),
    "a missing position": Bad(
        State.OPEN,
        "as-found",
        readings_with({0: "1.02", 180: "1.02"}),
        422,
        "position_missing",
        "No reading at 90 and 270 degrees.",
        ["readings", "why_fewer"],
        mended_by={"why_fewer": "The exhaust side cannot be reached"},
    ),
    "no readings at all": Bad(
        State.OPEN,
        "as-found",
        readings_with({}),
        422,
        "too_few_readings",
        "Need at least 1 readings, got 0.",
        ["readings"],
    ),
    "a gauge past its calibration": Bad(
        State.OPEN,
        "as-found",
        overdue,
        422,
        "gauge_overdue",
        "Gauge Micrometer 1 was due for calibration on",
        ["gauge"],
    ),
    "a retired fixture": Bad(
        State.PLANNED,
        "set-up",
        retired,
        422,
        "retired",
        "Fixture Plug A is retired and cannot be used.",
        ["fixture"],
    ),
    "achieved without a cut and without a reason": Bad(
        State.SET_UP,
        "achieved",
        readings_with(EVEN),
        409,
        "step_missing",
        "A cut in this round is not recorded.",
        ["why_no_cut"],
        mended_by={"why_no_cut": "Cut on the other lathe, the dial was not written down"},
    ),
    "a step before its time": Bad(
        State.OPEN,
        "achieved",
        readings_with(EVEN),
        409,
        "step_missing",
        "is not recorded",
        ["why_no_cut"],
    ),
    "a plan before as-found": Bad(
        State.OPEN,
        "plan",
        lambda shop: {"gasket_next": mm("0.5")},
        409,
        "wrong_state",
        "this step needs it to be as-found taken",
        [],
    ),
    "as-found again without a reason": Bad(
        State.FOUND,
        "as-found",
        readings_with(FOUND),
        422,
        "reason_needed",
        "Taking as-found again needs a reason",
        ["why_again"],
        mended_by={"why_again": "The wire had slipped"},
    ),
    "touch-off before indicating": Bad(
        State.SET_UP,
        "touch-off",
        lambda shop: {"dial": mm("2.0")},
        409,
        "step_missing",
        "Indicating after tightening is not recorded.",
        ["indicating"],
    ),
    "a concession without a reason": Bad(
        State.MEASURED,
        "concede",
        lambda shop: {"why": " "},
        422,
        "blank",
        "why: This field may not be blank.",
        ["why"],
        mended_by={"why": "The owner wants it so"},
    ),
}


@pytest.mark.parametrize("case", BAD.values(), ids=BAD.keys())
def test_it_is_refused_with_its_own_sentence(case: Bad, shop: Shop, lead: Bench) -> None:
    job = make_job(shop, state=case.state)
    body = case.body(shop)
    before = written()
    answer = lead.post(f"jobs/{job.pk}/{case.step}", body, match=f'"{job.version}"')
    problem = answer.json
    assert (answer.status_code, problem["code"]) == (case.status, case.code), problem
    assert case.says in problem["detail"]
    assert [one["name"] for one in problem["fields"]] == case.fields
    assert written() == before
    if case.mended_by is not None:
        mended = {**body, **case.mended_by}
        answer = lead.post(f"jobs/{job.pk}/{case.step}", mended, match=f'"{job.version}"')
        assert answer.status_code == 200, answer.content


def written() -> tuple[Any, ...]:
    """Everything that a refused step must leave alone."""
    return (
        list(Job.objects.values_list("pk", "state", "version")),
        list(Round.objects.values()),
        ReadingSet.objects.count(),
        JournalEntry.objects.count(),
    )


def test_a_confirmed_unit_is_marked_on_the_readings(shop: Shop, operator: Bench) -> None:
    job = make_job(shop)
    body = {
        **readings_with({0: "1.02", 90: "1.03", 180: "40.2", 270: "1.01"})(shop),
        "confirm": True,
    }
    answer = operator.post(f"jobs/{job.pk}/as-found", body, match="*")
    readings = answer.json["rounds"][0]["as_found"]["readings"]
    assert [one["unit_confirmed"] for one in readings] == [True] * 4


def test_a_target_under_the_floor(shop: Shop, operator: Bench) -> None:
    cylinder = make_job(shop).cylinder_id
    answer = operator.post("jobs", {"cylinder": cylinder, "target": mm("0.41")})
    assert (answer.status_code, answer.json["code"]) == (422, "target_under_floor")
    assert "0.410 mm is under the floor of 0.420 mm" in answer.json["detail"]
    assert answer.json["fields"][0]["name"] == "target"


def test_another_job_on_a_cylinder_at_work(shop: Shop, operator: Bench) -> None:
    at_work = make_job(shop, state=State.FOUND)
    body = {"cylinder": at_work.cylinder_id}
    answer = operator.post("jobs", body)
    assert (answer.status_code, answer.json["code"]) == (422, "cylinder_at_work")
    assert f"has job {at_work.pk} open" in answer.json["detail"]
    assert [one["name"] for one in answer.json["fields"]] == ["cylinder"]
    assert operator.post("jobs", {**body, "confirm": True}).json["code"] == "cylinder_at_work"
    assert Job.objects.count() == 1
    assert operator.post("jobs", {**body, "beside_open": True}).status_code == 201


def test_two_people_saving_the_same_step(shop: Shop, operator: Bench, lead: Bench) -> None:
    job = make_job(shop)
    seen = operator.get(f"jobs/{job.pk}").headers["ETag"]
    assert lead.get(f"jobs/{job.pk}").headers["ETag"] == seen
    body = readings_with(FOUND)(shop)
    first = operator.post(f"jobs/{job.pk}/as-found", body, match=seen)
    second = lead.post(f"jobs/{job.pk}/as-found", body, match=seen)
    assert first.status_code == 200
    assert (second.status_code, second.json["code"]) == (412, "changed_meanwhile")
    assert "Someone else saved job" in second.json["detail"]
    assert ReadingSet.objects.count() == 1
