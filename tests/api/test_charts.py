"""Charts, flags and signals over the API, from jobs whose tilt is known."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from qc import outbox
from qc.models import State
from qc.numerics.tilt_chart import NOISE_SD_MM
from tests.api.bench import Bench, mm
from tests.make import EVEN, NOON, Shop, make_job

KNOCKED = {0: "0.50", 90: "0.54", 180: "0.50", 270: "0.46"}
LATER = 8


@pytest.fixture
def knocked(shop: Shop) -> Shop:
    """Eight jobs as usual, then eight on a fixture that leaves 0.08 mm side to side."""
    for n in range(2 * LATER):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"C-{n}",
            achieved=EVEN if n < LATER else KNOCKED,
            clocking=90,
            at=NOON + timedelta(days=n),
        )
    outbox.drain()
    return shop


def test_a_tilt_is_told_on_the_fixtures_own_clock(shop: Shop, viewer: Bench) -> None:
    """D = 0.02 toward 90 on the engine's clock, at a radius of 19.4: 0.02 x 20 / 19.4 = 0.020619.
    The index mark stood at 90, so the fixture sees it at its own 0."""
    make_job(shop, state=State.MEASURED, clocking=90)
    chart = viewer.get(f"fixtures/{shop.fixture.pk}/chart").json
    [row] = chart["jobs"]
    assert row["tilt"]["side_to_side"] == mm("0.020619")
    assert row["tilt"]["wide_toward_deg"] in (0.0, 360.0)
    assert (row["signal"], chart["change"], chart["flags"]) == (False, None, [])
    assert float(chart["noise_sd"]["value"]) == pytest.approx(NOISE_SD_MM)
    assert row["statistic"] < chart["limit"]


def test_a_fixture_without_jobs_has_an_empty_chart(shop: Shop, viewer: Bench) -> None:
    chart = viewer.get(f"fixtures/{shop.fixture.pk}/chart").json
    assert (chart["jobs"], chart["change"]) == ([], None)


def test_a_knocked_fixture_is_flagged_and_its_flag_closed(
    knocked: Shop, viewer: Bench, operator: Bench, lead: Bench
) -> None:
    """The move is from D = 0.02 to 0.08 on a radius of 19.4: 0.06 x 20 / 19.4 = 0.062.

    What the few jobs before it say is drawn toward zero, so that the move looks a little larger.
    """
    chart = viewer.get(f"fixtures/{knocked.fixture.pk}/chart").json
    numbers = [one["job"] for one in chart["jobs"]]
    assert chart["change"]["moved_at"]["job"] == numbers[LATER]
    assert chart["jobs"][-1]["signal"] is True
    size = float(chart["change"]["shift"]["side_to_side"]["value"])
    assert size == pytest.approx(0.062, abs=0.015)
    turned = chart["change"]["shift"]["wide_toward_deg"]
    assert min(turned, 360 - turned) < 5

    [flag] = viewer.get("flags?open=true").json["results"]
    assert flag == chart["flags"][0]
    assert (flag["fixture"]["name"], flag["state"]) == ("Plug A", "raised")
    assert flag["moved_at"] == {"job": numbers[LATER], "round": 1}
    assert (flag["kind"], flag["channel"], flag["named"]["name"]) == ("fixture", "tilt", "Plug A")
    assert flag["title"] == "Plug A seems to have moved"
    assert (flag["height"], flag["spread_ratio"]) == (None, None)
    assert viewer.get(f"flags/{flag['id']}").json == flag
    how_it_stands(viewer, knocked)
    looked = operator.post(f"flags/{flag['id']}/look-into", {})
    assert looked.json["state"] == "looked_into"
    assert operator.post(f"flags/{flag['id']}/look-into").json["code"] == "bad_input"
    bare = lead.post(f"flags/{flag['id']}/close", {"state": "cause_found"})
    assert (bare.status_code, bare.json["fields"][0]["name"]) == (422, "why")
    wrong = lead.post(f"flags/{flag['id']}/close", {"state": "withdrawn", "why": "x"})
    assert wrong.json["fields"][0]["name"] == "state"
    cause = {"kind": "fixture", "id": flag["about"]["id"]}
    other = {"state": "cause_found", "why": "A burr", "cause": {"kind": "lathe", "id": 1}}
    assert lead.post(f"flags/{flag['id']}/close", other).json["fields"][0]["name"] == "cause"
    closed = lead.post(
        f"flags/{flag['id']}/close", {"state": "cause_found", "why": "A burr", "cause": cause}
    )
    assert (closed.json["cause"]["kind"], closed.json["cause"]["name"]) == ("fixture", "Plug A")
    assert closed.json["closed"]["by"] == "lena"
    assert closed.json["closed"]["note"] == "A burr"
    assert viewer.get("flags?open=true").json["results"] == []


def test_a_shift_that_nothing_explains_is_told_in_place_of_a_forecast(
    knocked: Shop, viewer: Bench, lead: Bench
) -> None:
    """It would take again the jobs that it took to raise the flag."""
    [flag] = viewer.get("flags?open=true").json["results"]
    took = flag["raised_by"]["job"] - flag["moved_at"]["job"] + 1
    lead.post(f"flags/{flag['id']}/close", {"state": "none_found", "why": "No burr, no dirt"})
    fixture = viewer.get(f"fixtures/{knocked.fixture.pk}/watched").json
    assert fixture["pays"] is None
    assert fixture["unexplained"] == {"flag": flag["id"], "more_jobs": took}
    assert viewer.get(f"lathes/{knocked.lathe.pk}/watched").json["unexplained"] is None


def how_it_stands(bench: Bench, shop: Shop) -> None:
    """A fixture with an open flag waits for it; its lathe is told of; all was recorded."""
    fixture = bench.get(f"fixtures/{shop.fixture.pk}/watched").json
    [known] = fixture["known"]
    assert (known["code"], known["channel"], known["own_jobs"]) == ("waits", "tilt", None)
    assert fixture["believed"] == []
    assert fixture["unexplained"] is None
    assert fixture["pays"]["minutes"] == 25
    assert fixture["pays"]["pays_after_jobs"] >= 1
    assert fixture["pays"]["miss_probability"] > fixture["pays"]["miss_probability_set_right"]
    lathe = bench.get(f"lathes/{shop.lathe.pk}/watched").json
    [known], [believed] = lathe["known"], lathe["believed"]
    assert (known["own_jobs"], believed["channel"]) == (2 * LATER, "height")
    assert "of its own jobs" in known["says"] or "would not show" in known["says"]
    assert float(believed["standard"]["value"]) > 0
    assert believed["wide_toward_deg"] is None
    assert lathe["pays"]["best_after_jobs"] is None
    assert bench.get("recording-gains").json == {"gains": []}


def test_too_few_jobs_are_not_judged(shop: Shop, viewer: Bench) -> None:
    make_job(shop, state=State.MEASURED)
    chart = viewer.get("charts/height_error").json
    assert (chart["jobs_wanted"], chart["limits"], chart["lathe"]) == (11, None, None)
    assert chart["jobs"][0]["value"] == mm("0")
    assert chart["jobs"][0]["beyond"] is None


def test_an_error_chart_judges_by_its_own_jobs(shop: Shop, viewer: Bench) -> None:
    """Heights 0.50 and 0.51 in turn: moving ranges of 0.01, a mean error of 0.005, and sigma
    0.01 / 0.95387 (median moving range; NIST/SEMATECH e-Handbook 6.3.2.2)."""
    for n in range(14):
        wide = {at: f"{float(gap) + 0.01 * (n % 2):.2f}" for at, gap in EVEN.items()}
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"C-{n}",
            achieved=wide,
            at=NOON + timedelta(days=n),
        )
    chart = viewer.get(f"charts/target_error?lathe={shop.lathe.pk}").json
    assert chart["lathe"]["name"] == "North lathe"
    assert chart["limits"]["centre"] == mm("0.005")
    sigma = float(chart["limits"]["sigma"]["value"])
    assert sigma == pytest.approx(0.01 / 0.95387, rel=1e-3)
    assert chart["limits"]["gauge_too_coarse"] is False
    first, second = chart["jobs"][:2]
    assert (first["moving_range"], second["moving_range"]) == (None, mm("0.01"))
    # z = centre + 0.2 (x - centre) after the first job.
    assert float(first["ewma"]["value"]) == pytest.approx(0.005 + 0.2 * (0 - 0.005))
    assert not any(one["beyond"] or one["ewma_signal"] for one in chart["jobs"])
    assert math.isfinite(chart["jobs_between_false_signals"])


def test_the_chart_of_a_lathe_that_is_not_there(shop: Shop, viewer: Bench) -> None:
    assert viewer.get("charts/target_error?lathe=999").status_code == 404
    assert viewer.get("charts/target_error?lath=1").json["code"] == "unknown_field"
