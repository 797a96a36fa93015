"""The lathe's sums by API, against the trade's check values (tests/reference/trade/cases.json)."""

from __future__ import annotations

import pytest

from qc.models import ReadingSet
from tests.api.bench import Bench, gaps, mm
from tests.api.test_sums import PLAN
from tests.make import Shop


def test_a_turn_of_the_dial_gives_the_tap(shop: Shop, viewer: Bench) -> None:
    """Case tap-v: 0.0127 off toward 40 degrees is moved 0.0127 toward 220."""
    dial = {0: "0.009729", 90: "0.008163", 180: "-0.009729", 270: "-0.008163"}
    answer = viewer.post("sums/indicating", {"readings": gaps(dial), "dial_step": mm("0.001")})
    assert answer.status_code == 200, answer.content
    assert float(answer.json["eccentricity"]["amount"]["value"]) == pytest.approx(0.0127, abs=1e-5)
    assert answer.json["tap"]["strike_deg"] == pytest.approx(40, abs=0.05)
    assert answer.json["tap"]["toward_deg"] == pytest.approx(220, abs=0.05)
    assert len(answer.json["tap"]["jaws"]) == 4
    assert answer.json["standing"] == "over"
    assert not ReadingSet.objects.exists()


def test_a_lever_is_read_times_its_cosine(shop: Shop, viewer: Bench) -> None:
    """Case cosine-20: 0.2 at 20 degrees is 0.188 (a maker's quick guide, rounded there)."""
    dial = {0: "0.2", 90: "0", 180: "-0.2", 270: "0"}
    body = {"readings": gaps(dial), "dial_step": mm("0.01"), "lever_angle_deg": 20}
    answer = viewer.post("sums/indicating", body)
    amount = float(answer.json["eccentricity"]["amount"]["value"])
    assert amount == pytest.approx(0.188, abs=0.0005)


def test_angles_that_hold_no_circle_are_refused(shop: Shop, viewer: Bench) -> None:
    answer = viewer.post("sums/indicating", {"readings": gaps({0: "0.01", 180: "0"})})
    assert (answer.status_code, answer.json["code"]) == (422, "angles_do_not_span")


def test_two_clockings_part_fixture_from_engine(shop: Shop, viewer: Bench) -> None:
    """Turned by 180: engine (0.02 - 0.01) / 2 toward 0, fixture (0.02 + 0.01) / 2."""
    first = {0: "0.52", 90: "0.50", 180: "0.48", 270: "0.50"}
    second = {0: "0.49", 90: "0.50", 180: "0.51", 270: "0.50"}
    body = {
        "first": {"clocking_deg": 0, "gauge_step": mm("0.01"), "readings": gaps(first)},
        "second": {"clocking_deg": 180, "gauge_step": mm("0.01"), "readings": gaps(second)},
    }
    answer = viewer.post("sums/clocking", body)
    assert answer.status_code == 200, answer.content
    assert answer.json["turn_deg"] == 180
    assert float(answer.json["engine"]["amount"]["value"]) == pytest.approx(0.005, abs=1e-6)
    assert float(answer.json["fixture"]["amount"]["value"]) == pytest.approx(0.015, abs=1e-6)
    same = {**body, "second": {**body["second"], "clocking_deg": 0}}
    told = viewer.post("sums/clocking", same).json
    assert told["fixture"] is None
    assert "Turn the cylinder" in told["does_not_tell"][0]


def test_speed_finish_and_chip(shop: Shop, viewer: Bench) -> None:
    """Cases spindle-v, finish-v: 596.8 rpm at 120 m/min and 64; Rt 3.125, Ra 0.802."""
    body = {"diameter": mm("64"), "edge_radius_um": 20, "nose_radius": mm("0.4")}
    answer = viewer.post("sums/cutting", {**body, "surface_speed_m_min": 120, "feed": mm("0.1")})
    assert answer.status_code == 200, answer.content
    assert answer.json["spindle_rpm"] == pytest.approx(596.831, abs=0.001)
    assert answer.json["rt_um"] == pytest.approx(3.125)
    assert answer.json["ra_um"] == pytest.approx(0.801875, abs=1e-6)
    assert answer.json["smallest_chip"] == mm("0.006")
    held = viewer.post("sums/cutting", {**body, "surface_speed_m_min": 400}).json
    assert (held["spindle_rpm"], held["is_held"]) == (600, True)


def test_a_plan_for_a_family_tells_what_the_cut_does(shop: Shop, viewer: Bench) -> None:
    answer = viewer.post("sums/plan", {**PLAN, "family": shop.family.pk})
    rows = {one["name"]: one for one in answer.json["effects"]}
    assert rows["Exhaust open for"]["before"] == pytest.approx(154.3, abs=0.05)
    assert rows["Exhaust open for"]["after"] == pytest.approx(150.1, abs=0.05)
    figures = {one["name"]: one["value"] for one in answer.json["figures"]}
    assert figures["Piston speed, mean"] == pytest.approx(13.904, abs=1e-3)
    assert any("maker's limits" in one["caution"] for one in answer.json["cautions"])
