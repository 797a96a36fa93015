"""A script records a whole job by the API alone, and the numbers are those worked by hand.

As-found 1.02, 1.03, 1.02, 1.01: mean 1.02. Gasket unchanged, target 0.50: 0.52 to cut. Roughing
takes 0.52 - 0.05 = 0.47 in two passes of 0.235, the finish 0.05: from a touch-off at 2.00 the dial
goes to 2.235, 2.47 and 2.52. Predicted 1.02 - 0.52 = 0.50.

Achieved 0.50, 0.51, 0.50, 0.49 at 0, 90, 180, 270: mean 0.50, toward 0 (0.50 - 0.50) / 2 = 0,
toward 90 (0.51 - 0.49) / 2 = 0.01, side to side 0.02, tightest 0.49.
"""

from __future__ import annotations

from typing import Any

import pytest

from qc.actor import Actor
from qc.models import JobResult, Role
from tests.api.bench import Bench, gaps, mm
from tests.make import make_person

FAMILY = {
    "name": "Alder 46",
    "bore": mm("43.2"),
    "stroke": mm("31.6"),
    "rod": mm("55.4"),
    "expected_gap": mm("1.02"),
    "gasket": mm("0.50"),
    "target": mm("0.50"),
    "tol_minus": mm("0.05"),
    "tol_plus": mm("0.05"),
    "floor": mm("0.42"),
    "measuring_radius": mm("19.4"),
    "flange": mm("7.0"),
    "flange_min": mm("5.5"),
    "rpm_loaded": 9600,
    "spark_btdc_deg": 27.5,
}


def made(response: Any) -> int:
    assert response.status_code == 201, response.content
    return int(response.json["id"])


@pytest.mark.django_db
def test_a_script_records_a_whole_job_with_nothing_but_the_api() -> None:
    lead = Bench.of(Actor(make_person("lena", Role.LEAD)))
    lathe = made(lead.post("lathes", {"name": "North lathe"}))
    edge = made(
        lead.post("edges", {"lathe": lathe, "slot": "1", "name": "Insert 1", "edge_radius_um": 20})
    )
    fixture = made(lead.post("fixtures", {"name": "Plug A"}))
    gauge = made(
        lead.post("gauges", {"name": "Mic 1", "step": mm("0.01"), "calibration_u": mm("0.001")})
    )
    family = made(lead.post("families", FAMILY))
    cylinder = made(lead.post("cylinders", {"family": family, "serial": "C-1"}))

    opened = lead.post("jobs", {"cylinder": cylinder})
    assert opened.status_code == 201
    job = opened.headers["Location"].removeprefix("/api/v1/")
    tag = opened.headers["ETag"]
    assert opened.json["limits"]["floor"] == mm("0.42")

    reading = {
        "gauge": gauge,
        "base_gasket": mm("0.50"),
        "solder": mm("1.5"),
        "bolts_torqued": True,
    }
    indicated = gaps({0: "0.004", 90: "-0.002", 180: "-0.004", 270: "0.002"})
    cut = {"fixture": fixture, "lathe": lathe, "edge": edge, "clocking_deg": 0}
    steps: list[tuple[str, dict[str, Any]]] = [
        (
            "as-found",
            {**reading, "readings": gaps({0: "1.02", 90: "1.03", 180: "1.02", 270: "1.01"})},
        ),
        ("plan", {"gasket_next": mm("0.50")}),
        ("set-up", cut),
        ("indicating", {"kind": "indicated_snug", "readings": indicated}),
        ("indicating", {"kind": "indicated_tight", "readings": indicated}),
        ("touch-off", {"dial": mm("2.00")}),
        ("passes", {"dial": mm("2.235")}),
        ("passes", {"dial": mm("2.47")}),
        ("passes", {"dial": mm("2.52")}),
        ("passes", {"dial": mm("2.52"), "is_spring": True}),
        (
            "achieved",
            {
                **reading,
                "solder": mm("1.0"),
                "readings": gaps({0: "0.50", 90: "0.51", 180: "0.50", 270: "0.49"}),
            },
        ),
        ("release", {}),
    ]
    for step, body in steps:
        answer = lead.post(f"{job}/{step}", body, match=tag)
        assert answer.status_code == 200, (step, answer.content)
        assert answer.headers["ETag"] != tag
        tag = answer.headers["ETag"]

    record = lead.get(job).json
    [round_] = record["rounds"]
    assert record["state"] == "released"
    assert round_["plan"]["depth"] == mm("0.52")
    assert round_["plan"]["limited_by"] == "target"
    assert round_["plan"]["passes"] == [mm("0.235"), mm("0.235"), mm("0.05")]
    assert round_["dial_targets"] == [mm("2.235"), mm("2.47"), mm("2.52")]
    assert round_["depth"] == {"cut": mm("0.52"), "is_planned": False}
    result = round_["result"]
    assert result["height"] == result["predicted"] == mm("0.5")
    assert result["height_error"] == result["target_error"] == mm("0")
    assert result["tilt"] == {
        "toward_0": mm("0"),
        "toward_90": mm("0.01"),
        "side_to_side": mm("0.02"),
        "wide_toward_deg": 90.0,
    }
    assert result["tightest"] == mm("0.49")
    assert result["verdict"]["kind"] == "accept"
    assert "JCGM 106" in result["verdict"]["rule"]
    assert {line["name"] for line in result["budget"]} >= {"repeats", "gauge step", "base gasket"}
    assert [one["action"] for one in lead.get(f"{job}/journal").json["results"]][-2:] == [
        "result.computed",
        "job.released",
    ]

    kept = JobResult.objects.get()
    assert kept.tilt_sin_mm == pytest.approx(0.01, abs=1e-12)
    assert kept.height_mm == pytest.approx(0.50, abs=1e-12)


def test_readings_come_back_as_entered_and_in_mm(shop: Any, operator: Bench) -> None:
    """0.0402 in x 25.4 = 1.02108 mm; 40.2 thou is the same; the typed digits stay."""
    cylinder = made(operator.post("cylinders", {"family": shop.family.pk, "serial": "C-1"}))
    number = operator.post("jobs", {"cylinder": cylinder}).json["number"]
    readings = [
        *gaps({0: "0.0402"}, unit="in"),
        *gaps({90: "40.20"}, unit="thou"),
        *gaps({180: "1.02", 270: "1.010"}),
    ]
    body = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "readings": readings}
    answer = operator.post(f"jobs/{number}/as-found", body, match="*")
    assert answer.status_code == 200, answer.content
    lengths = [one["length"] for one in answer.json["rounds"][0]["as_found"]["readings"]]
    assert lengths == [
        {**mm("1.02108"), "entered": {"value": "0.0402", "unit": "in"}},
        {**mm("1.02108"), "entered": {"value": "40.20", "unit": "thou"}},
        {**mm("1.02"), "entered": {"value": "1.02", "unit": "mm"}},
        {**mm("1.01"), "entered": {"value": "1.010", "unit": "mm"}},
    ]
