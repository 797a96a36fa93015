"""The sums on readings that are nowhere on record; the figures are worked out beside each."""

from __future__ import annotations

from typing import Any

import pytest

from qc.models import Job, JournalEntry, ReadingSet, State
from tests.api.bench import Bench, gaps, mm
from tests.make import EVEN, FOUND, Shop, make_job

LIMITS = {"gauge_step": mm("0.01"), "target": mm("0.50"), "floor": mm("0.42")}
PLAN = {**LIMITS, "readings": gaps(FOUND), "gasket_found": mm("0.50"), "gasket_next": mm("0.50")}
CHECK = {
    **LIMITS,
    "readings": gaps(EVEN),
    "tol_minus": mm("0.05"),
    "tol_plus": mm("0.05"),
    "gauge_calibration_u": mm("0.001"),
}


def test_a_plan_from_readings(shop: Shop, viewer: Bench) -> None:
    """Mean 1.02, gasket unchanged: 0.52 deep; 0.51 at 90 and 0.49 at 270 are left."""
    entries = JournalEntry.objects.count()
    answer = viewer.post("sums/plan", PLAN)
    assert answer.status_code == 200, answer.content
    plan = answer.json["plan"]
    assert (plan["depth"], plan["limited_by"]) == (mm("0.52"), "target")
    assert plan["passes"] == [mm("0.235"), mm("0.235"), mm("0.05")]
    assert [one["gap"]["value"] for one in plan["predicted"]] == ["0.5", "0.51", "0.5", "0.49"]
    assert answer.json["found"]["fit"]["tilt"]["wide_toward_deg"] == 90.0
    kept = (Job.objects.count(), ReadingSet.objects.count(), JournalEntry.objects.count())
    assert kept == (0, 0, entries)


@pytest.mark.parametrize(
    ("changes", "depth", "limited_by"),
    [
        # A gasket 0.10 thinner takes 0.10 of the 0.52.
        ({"gasket_next": mm("0.40")}, "0.42", "target"),
        # Floor 0.495 under the tightest, 1.02 - 0.01 = 1.01: 0.515.
        ({"floor": mm("0.495")}, "0.515", "floor"),
        # 5.9 - 5.5 of flange.
        ({"flange": mm("5.9"), "flange_min": mm("5.5")}, "0.4", "material"),
        ({"target": {"value": "0.05", "unit": "in"}}, "0", "none"),
    ],
)
def test_what_stops_the_cut(
    changes: dict[str, Any], depth: str, limited_by: str, shop: Shop, viewer: Bench
) -> None:
    plan = viewer.post("sums/plan", {**PLAN, **changes}).json["plan"]
    assert (plan["depth"]["value"], plan["limited_by"]) == (depth, limited_by)


def test_a_verdict_from_readings(shop: Shop, viewer: Bench) -> None:
    """Predicted 0.51: the height error is 0.50 - 0.51 = -0.01."""
    answer = viewer.post("sums/check", {**CHECK, "predicted": mm("0.51")})
    assert answer.status_code == 200, answer.content
    assert answer.json["verdict"]["kind"] == "accept"
    assert answer.json["target_error"] == mm("0")
    assert answer.json["height_error"] == mm("-0.01")
    assert answer.json["achieved"]["fit"]["tilt"]["side_to_side"] == mm("0.02")
    high = viewer.post("sums/check", {**CHECK, "readings": gaps(dict.fromkeys(EVEN, "0.60"))})
    assert high.json["verdict"]["kind"] == "cut_again"
    assert high.json["next_cut"]["depth"] == mm("0.1")
    low = viewer.post("sums/check", {**CHECK, "readings": gaps(dict.fromkeys(EVEN, "0.38"))})
    assert low.json["verdict"]["kind"] == "reject"


def test_the_budget_is_the_jobs_own(shop: Shop, viewer: Bench) -> None:
    """The same readings with the same gauge come to the same uncertainty as in a job."""
    job = make_job(shop, state=State.MEASURED)
    kept = viewer.get(f"jobs/{job.pk}").json["rounds"][0]["result"]
    summed = viewer.post("sums/check", CHECK).json
    assert summed["uncertainty"] == kept["uncertainty"]
    assert summed["budget"] == kept["budget"]
    assert summed["verdict"]["probability_height"] == kept["verdict"]["probability_height"]


def test_a_wild_reading_is_told_with_the_verdict(shop: Shop, viewer: Bench) -> None:
    """As the page says it; tests/dashboards/test_bench_jobs.py."""
    odd = gaps({0: "0.50", 90: "0.65", 180: "0.50", 270: "0.50"})
    answer = viewer.post("sums/check", {**CHECK, "readings": odd})
    [apart] = answer.json["stands_apart"]
    assert apart["kind"] == "position"
    assert apart["suspects"] == [{"position_deg": 90, "by": mm("0.15")}]
    said = answer.json["verdict"]["said"]
    assert [one["code"] for one in said] == ["height_near", "evenness_over"]
    assert said[1]["facts"]["difference_mm"] == pytest.approx(0.15)
    assert viewer.post("sums/check", CHECK).json["stands_apart"] == []


@pytest.mark.parametrize(
    ("path", "changes", "code"),
    [
        ("sums/plan", {"target": mm("0.40")}, "target_under_floor"),
        ("sums/plan", {"flange": mm("6")}, "bad_input"),
        ("sums/plan", {"readings": gaps({0: "-1"})}, "negative_length"),
        ("sums/plan", {"readings": []}, "too_few_readings"),
        ("sums/plan", {"solder": mm("1.0")}, "gap_wider_than_solder"),
        ("sums/plan", {"confirm": True}, "unknown_field"),
        ("sums/check", {"gauge_step": mm("0")}, "bad_input"),
        ("sums/check", {"tol_plus": mm("-0.05")}, "negative_length"),
        ("sums/check", {"readings": gaps({0: "51"})}, "length_too_large"),
    ],
)
def test_what_cannot_be_summed(
    path: str, changes: dict[str, Any], code: str, shop: Shop, viewer: Bench
) -> None:
    body = PLAN if path == "sums/plan" else CHECK
    answer = viewer.post(path, {**body, **changes})
    assert (answer.status_code, answer.json["code"]) == (422, code), answer.content


def test_a_burette_reading(shop: Shop, viewer: Bench) -> None:
    """Trade case burette-v: 6.6 less 0.5 is 6.1 cc; Alder's 46.32 cc swept over it, plus one."""
    read = {"filled_cc": 6.6, "plug_well_cc": 0.5}
    of_family = viewer.post("sums/burette", {**read, "family": shop.family.pk})
    assert of_family.status_code == 200, of_family.content
    assert of_family.json["clearance_cc"] == pytest.approx(6.1)
    assert of_family.json["geometric_ratio"] == pytest.approx(1 + 46.317 / 6.1, abs=1e-3)
    assert of_family.json["trapped_ratio"] == pytest.approx(6.166, abs=1e-3)
    sizes = {"bore": mm("43.2"), "stroke": mm("31.6")}
    bare = viewer.post("sums/burette", {**read, **sizes}).json
    assert bare == {**of_family.json, "trapped_ratio": None}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"plug_well_cc": 7}, "out_of_reach"),
        ({"filled_cc": 0}, "bad_input"),
        ({"filled_cc": 100}, "out_of_reach"),
        ({"stroke": None}, "bad_input"),
        ({"family": 1}, "bad_input"),
    ],
)
def test_a_burette_reading_that_cannot_be(
    changes: dict[str, Any], code: str, shop: Shop, viewer: Bench
) -> None:
    asked = {
        "filled_cc": 6.6,
        "plug_well_cc": 0.5,
        "bore": mm("43.2"),
        "stroke": mm("31.6"),
        **changes,
    }
    if "family" in changes:
        asked["family"] = shop.family.pk
    body = {name: value for name, value in asked.items() if value is not None}
    answer = viewer.post("sums/burette", body)
    assert (answer.status_code, answer.json["code"]) == (422, code), answer.content
