"""Steps beside the straight way: readings added and voided, a second round, skipped steps."""

from __future__ import annotations

from typing import Any

import pytest

from qc.models import JobResult, Reading, State
from tests.api.bench import Bench, gaps, mm
from tests.make import EVEN, FOUND, Shop, make_job


def achieved(record: Any) -> Any:
    return record["rounds"][-1]["achieved"]


def at(record: Any, position: int) -> list[Any]:
    readings = achieved(record)["readings"]
    return [one for one in readings if one["position_deg"] == position]


def test_a_gauge_posts_single_readings_to_a_set(shop: Shop, operator: Bench) -> None:
    """A second crush of the piece at 90 comes out thinner, 0.50 for 0.51: the mean falls by
    0.01 / 4. A second piece at 0 of 0.52 beside 0.50 makes 0.51 there: it rises by as much."""
    job = make_job(shop, state=State.MEASURED)
    set_id = achieved(operator.get(f"jobs/{job.pk}").json)["id"]
    path = f"jobs/{job.pk}/reading-sets/{set_id}/readings"
    crush = operator.post(path, {"readings": gaps({90: "0.50"}, crush=2)}, match="*")
    assert crush.status_code == 200, crush.content
    result = crush.json["rounds"][0]["result"]
    assert (result["height"], result["revision"]) == (mm("0.4975"), 2)
    piece = operator.post(path, {"readings": gaps({0: "0.52"}, piece=2)}, match="*")
    result = piece.json["rounds"][0]["result"]
    assert (result["height"], result["revision"]) == (mm("0.5"), 3)
    # Two pieces at one position, 0.50 and 0.52: s = 0.02 / sqrt(2), one degree of freedom.
    assert result["spread"] == mm("0.014142")
    assert result["spread_degrees_of_freedom"] == 1
    assert len(piece.json["rounds"][0]["older_results"]) == 2


def test_a_reading_of_the_same_crush_is_not_taken_twice(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.FOUND)
    [set_] = [one["as_found"] for one in operator.get(f"jobs/{job.pk}").json["rounds"]]
    path = f"jobs/{job.pk}/reading-sets/{set_['id']}/readings"
    again = operator.post(path, {"readings": gaps({90: "1.03"})}, match="*")
    assert (again.status_code, again.json["code"]) == (409, "already_there")
    assert "at 90" in again.json["detail"]
    other = make_job(shop, serial="C-2")
    elsewhere = operator.post(
        path.replace(f"jobs/{job.pk}/", f"jobs/{other.pk}/"),
        {"readings": gaps({90: "1.03"}, piece=2)},
        match="*",
    )
    assert (elsewhere.status_code, elsewhere.json["code"]) == (404, "not_found")


def test_a_void_keeps_the_reading_and_judges_again(shop: Shop, operator: Bench) -> None:
    """0.51 at 90 was 0.53 on the paper: B = (0.53 - 0.49) / 2 = 0.02, height 2.02 / 4 = 0.505."""
    job = make_job(shop, state=State.MEASURED)
    [wrong] = at(operator.get(f"jobs/{job.pk}").json, 90)
    path = f"jobs/{job.pk}/readings/{wrong['id']}/void"
    body = {"why": "Copied wrong", "replacement": {"value": "0.530", "unit": "mm"}}
    answer = operator.post(path, body, match=f'"{job.version}"')
    assert answer.status_code == 200, answer.content
    old, new = sorted(at(answer.json, 90), key=lambda one: one["id"])
    assert old["length"]["entered"] == {"value": "0.51", "unit": "mm"}
    assert (old["void"]["by"], old["void"]["why"]) == ("oskar", "Copied wrong")
    assert old["void"]["replaced_by"] == new["id"]
    assert new["void"] is None
    assert new["length"]["entered"]["value"] == "0.530"
    result = answer.json["rounds"][0]["result"]
    assert result["height"] == mm("0.505")
    assert result["tilt"]["toward_90"] == mm("0.02")
    [before] = answer.json["rounds"][0]["older_results"]
    assert before["height"] == mm("0.5")

    again = operator.post(path, body, match="*")
    assert (again.status_code, again.json["code"]) == (409, "already_void")
    assert Reading.objects.filter(voided_at__isnull=False).count() == 1
    assert JobResult.objects.filter(is_current=True).count() == 1


def test_a_void_without_a_replacement(shop: Shop, operator: Bench) -> None:
    """Without 90 degrees three positions at 0, 180 and 270 are left: half the circle holds them."""
    job = make_job(shop, state=State.MEASURED)
    [wrong] = at(operator.get(f"jobs/{job.pk}").json, 90)
    answer = operator.post(
        f"jobs/{job.pk}/readings/{wrong['id']}/void", {"why": "Wire had slipped"}, match="*"
    )
    assert answer.json["rounds"][0]["result"]["revision"] == 2
    assert achieved(answer.json)["summary"]["fit"]["kind"] == "vector"
    assert achieved(answer.json)["summary"]["fit"]["misfit_rms"] is None


@pytest.mark.parametrize(
    ("replacement", "code"),
    [(mm("-0.5"), "negative_length"), (mm("1.7"), "gap_wider_than_solder")],
)
def test_a_wrong_replacement_leaves_the_reading_standing(
    replacement: Any, code: str, shop: Shop, operator: Bench
) -> None:
    job = make_job(shop, state=State.FOUND)
    reading = Reading.objects.first()
    assert reading is not None
    body = {"why": "Copied wrong", "replacement": replacement}
    answer = operator.post(f"jobs/{job.pk}/readings/{reading.pk}/void", body, match="*")
    assert (answer.status_code, answer.json["code"]) == (422, code)
    assert answer.json["fields"][0]["name"] == "replacement"
    assert not Reading.objects.filter(voided_at__isnull=False).exists()


def test_a_voided_pass_gives_back_its_depth(shop: Shop, operator: Bench) -> None:
    """Touch-off 2.00, passes to 2.25 and 2.52: without the second the cut is 0.25."""
    job = make_job(shop, state=State.CUT)
    last = operator.get(f"jobs/{job.pk}").json["rounds"][0]["passes"][-1]
    answer = operator.post(f"jobs/{job.pk}/passes/{last['id']}/void", {"why": "Misread"}, match="*")
    [round_] = answer.json["rounds"]
    assert round_["depth"]["cut"] == mm("0.25")
    assert round_["passes"][-1]["void"]["why"] == "Misread"
    assert round_["passes"][-1]["dial"]["entered"] == {"value": "2.52", "unit": "mm"}


def test_a_pass_is_put_right_in_its_place(shop: Shop, operator: Bench) -> None:
    """The second of two passes stood at 2.50, not 2.52: the cut is 0.50."""
    job = make_job(shop, state=State.CUT)
    last = operator.get(f"jobs/{job.pk}").json["rounds"][0]["passes"][-1]
    body = {"why": "Misread", "replacement": mm("2.50")}
    answer = operator.post(f"jobs/{job.pk}/passes/{last['id']}/void", body, match="*")
    [round_] = answer.json["rounds"]
    assert round_["depth"]["cut"] == mm("0.5")
    before = operator.post(
        f"jobs/{job.pk}/passes/{round_['passes'][-1]['id']}/void",
        {"why": "Again", "replacement": mm("1.9")},
        match="*",
    )
    assert before.json["fields"][0]["name"] == "replacement"


def test_what_the_cut_does_to_the_engine_comes_with_the_plan(shop: Shop, operator: Bench) -> None:
    """Clearance falls by the bore's area times 0.52: pi / 4 x 43.2^2 x 0.52 / 1000 = 0.7622 cc."""
    job = make_job(shop, state=State.PLANNED)
    [round_] = operator.get(f"jobs/{job.pk}").json["rounds"]
    effects = {one["name"]: one for one in round_["effects"]}
    clearance = effects["Clearance volume"]
    assert clearance["unit"] == "cc"
    assert clearance["before"] - clearance["after"] == pytest.approx(0.7622, abs=1e-4)
    # Each 0.01 mm takes as much off the gap at speed; 2 x 31.6 mm x 13 200 rpm is 13.9 m/s.
    assert "Gap left at speed" not in effects  # no carbon allowance is known of this family
    figures = {one["name"]: (one["value"], one["unit"]) for one in round_["figures"]}
    assert figures["Piston speed, mean"] == (pytest.approx(13.904, abs=1e-3), "m/s")
    # A band 4.4 wide in a bore of 43.2: 1 - (34.4 / 43.2)^2.
    assert figures["Squish band's share of the bore"] == (pytest.approx(36.59, abs=0.01), "%")
    assert effects["Squish velocity, peak"]["per_thou"] > 0
    assert all(one["sentence"] for one in round_["cautions"])
    assert (
        operator.get(f"jobs/{make_job(shop, serial='C-2').pk}").json["rounds"][0]["effects"] == []
    )


def test_no_correction_is_suggested_before_jobs_speak_for_one(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.SET_UP)
    suggested = operator.get(f"edges/{shop.edge.pk}/correction").json
    assert (suggested["correction"], suggested["jobs"]) == (mm("0"), 0)
    assert suggested["reason"] == "too few jobs"
    take = operator.post(f"jobs/{job.pk}/correction", {"take": True}, match="*")
    assert (take.status_code, take.json["code"]) == (422, "bad_input")
    leave = operator.post(f"jobs/{job.pk}/correction", {"take": False}, match="*")
    assert leave.json["rounds"][0]["correction"] == mm("0")


def test_a_second_round_begins_where_the_first_ended(shop: Shop, operator: Bench) -> None:
    """Left at 0.60 with a target of 0.50 +- 0.05 the verdict is to cut again, 0.10 deep."""
    high = dict.fromkeys(EVEN, "0.60")
    job = make_job(shop, state=State.MEASURED, achieved=high)
    record = operator.get(f"jobs/{job.pk}").json
    assert record["rounds"][0]["result"]["verdict"]["kind"] == "cut_again"
    assert record["rounds"][0]["result"]["next_cut"]["depth"] == mm("0.1")
    again = operator.post(f"jobs/{job.pk}/cut-again", {}, match=f'"{job.version}"')
    first, second = again.json["rounds"]
    assert again.json["state"] == "found"
    assert second["as_found"]["id"] == first["achieved"]["id"]
    plan = operator.post(
        f"jobs/{job.pk}/plan", {"gasket_next": mm("0.50")}, match=again.headers["ETag"]
    )
    assert plan.json["rounds"][1]["plan"]["depth"] == mm("0.1")


def test_against_the_verdict_cutting_again_needs_a_reason(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.MEASURED)
    bare = operator.post(f"jobs/{job.pk}/cut-again", {}, match="*")
    assert (bare.status_code, bare.json["code"]) == (422, "reason_needed")
    assert operator.post(f"jobs/{job.pk}/cut-again", {"why": "Race"}, match="*").status_code == 200


def test_a_skipped_step_says_why(shop: Shop, operator: Bench) -> None:
    job = make_job(shop)
    answer = operator.post(
        f"jobs/{job.pk}/skip", {"step": "as_found", "why": "Bare casting"}, match="*"
    )
    [skipped] = answer.json["rounds"][0]["skipped"]
    assert (skipped["step"], skipped["why"], skipped["by"]) == ("as_found", "Bare casting", "oskar")
    assert answer.json["state"] == "found"


def test_a_set_taken_again_keeps_the_first(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.FOUND)
    body = {
        "gauge": shop.gauge.pk,
        "base_gasket": mm("0.5"),
        "readings": gaps({**FOUND, 0: "1.04"}),
        "why_again": "The wire had slipped",
        "measured_by": "LENA",
    }
    answer = operator.post(f"jobs/{job.pk}/as-found", body, match="*")
    [round_] = answer.json["rounds"]
    [first] = round_["taken_again"]
    assert round_["as_found"]["by"] == "lena"
    assert first["by"] == "oskar"
    assert first["readings"][0]["length"]["value"] == "1.02"
    # (1.04 + 1.03 + 1.02 + 1.01) / 4
    assert round_["as_found"]["summary"]["fit"]["height"] == mm("1.025")


def test_changed_parts_ask_for_as_found_again(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.FOUND)
    changed = operator.post(f"jobs/{job.pk}/parts-changed", {"why": "New piston"}, match="*")
    assert changed.json["rounds"][0]["parts_changed"] is True
    plan = operator.post(f"jobs/{job.pk}/plan", {"gasket_next": mm("0.5")}, match="*")
    assert (plan.status_code, plan.json["code"]) == (409, "as_found_needed_again")


def test_indicating_is_signed_and_kept_as_it_was_read(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.SET_UP)
    readings = gaps({0: "0.5", 90: "-0.25", 180: "-0.50"}, unit="thou", plane=2)
    body = {"kind": "indicated_snug", "gauge": shop.gauge.pk, "readings": readings}
    body["lever_angle_deg"] = 12.5
    answer = operator.post(f"jobs/{job.pk}/indicating", body, match="*")
    [set_] = answer.json["rounds"][0]["dial_readings"]
    assert (set_["kind"], set_["lever_angle_deg"]) == ("indicated_snug", 12.5)
    # -0.25 thou x 0.0254 = -0.00635 mm.
    assert [one["length"]["value"] for one in set_["readings"]] == ["0.0127", "-0.00635", "-0.0127"]
    assert [one["plane"] for one in set_["readings"]] == [2, 2, 2]


def test_fewer_positions_hold_no_vector(shop: Shop, operator: Bench) -> None:
    """0.50 and 0.52 at 0 and 180: half the difference is -0.01, wide toward 180."""
    job = make_job(shop, state=State.CUT)
    body = {
        "gauge": shop.gauge.pk,
        "base_gasket": mm("0.50"),
        "readings": gaps({0: "0.50", 180: "0.52"}),
        "why_fewer": "The carburettor is in the way",
    }
    answer = operator.post(f"jobs/{job.pk}/achieved", body, match="*")
    result = answer.json["rounds"][0]["result"]
    assert result["tilt"] is None
    assert result["component"] == {"axis_deg": 0.0, "half_difference": mm("-0.01")}
    assert result["uncertainty"]["side_to_side"] is None
    assert result["verdict"]["kind"] == "undecided"


def test_what_indicating_said_stays_with_the_job(shop: Shop, operator: Bench) -> None:
    """0.010 high at 90 and low at 270: off centre by 0.010 there, over the limit of 0.0127."""
    job = make_job(shop, state=State.SET_UP)
    body = {
        "kind": "indicated_tight",
        "readings": gaps({0: "0", 90: "0.010", 180: "0", 270: "-0.010"}),
    }
    answer = operator.post(f"jobs/{job.pk}/indicating", body, match="*")
    assert answer.status_code == 200, answer.content
    [round_] = answer.json["rounds"]
    kept = round_["indicated"]
    [plane] = kept["tight"]["planes"]
    assert (plane["runout"]["tir"], plane["standing"]) == (mm("0.02"), "over")
    assert plane["runout"]["eccentricity"]["amount"] == mm("0.01")
    assert plane["runout"]["eccentricity"]["high_deg"] == 90
    assert plane["tap"]["toward_deg"] == 270
    assert (kept["revision"], kept["snug"], kept["shift"]) == (1, None, None)
    assert kept["limit"] == mm("0.0127")
    assert round_["clocking_test"] is None
