"""Charts of errors through the API: ways of looking, frozen limits, sets of patterns."""

from __future__ import annotations

import pytest

from qc.models import Baseline
from tests.api.bench import Bench
from tests.cutting import cut_some
from tests.make import Shop


@pytest.fixture
def lead(shop: Shop) -> Bench:
    return Bench.of(shop.lead)


def test_a_chart_tells_its_jobs_limits_and_lanes(shop: Shop, lead: Bench) -> None:
    jobs = cut_some(shop, 14)
    chart = lead.get(f"charts?channel=height_error&lathe={shop.lathe.pk}").json
    assert (chart["view"], chart["whose"], chart["jobs_wanted"]) == (
        "singles",
        f"lathe/{shop.lathe.pk}",
        0,
    )
    single, moved = chart["lanes"]
    assert [one["job"] for one in single["jobs"]] == [one.pk for one in jobs]
    low, value, high = (single["jobs"][-1][name] for name in ("lower", "value", "upper"))
    assert float(low["value"]) < float(value["value"]) < float(high["value"])
    assert value["unit"] == "mm"
    assert single["jobs"][0]["upper"] is None
    assert len(moved["jobs"]) == 13
    assert chart["baseline"] is None


def test_limits_are_frozen_listed_and_given_up(shop: Shop, lead: Bench) -> None:
    jobs = cut_some(shop, 14)
    told = {
        "channel": "target_error",
        "first_job": jobs[0].pk,
        "last_job": jobs[-1].pk,
        "leave_out": [jobs[3].pk],
        "why": "A good month",
    }
    made = lead.post("baselines", told)
    assert made.status_code == 201
    assert made.json["jobs"] == [one.pk for one in jobs if one != jobs[3]]
    assert lead.get("charts?channel=target_error").json["baseline"]["id"] == made.json["id"]
    given_up = lead.post(f"baselines/{made.json['id']}/give-up", {"why": "New gauge"})
    assert given_up.json["why_ended"] == "New gauge"
    [listed] = lead.get("baselines?channel=target_error").json["results"]
    assert listed["ended_by"] == "lena"
    assert Baseline.objects.count() == 1


def test_what_cannot_be_asked_is_said(shop: Shop, lead: Bench) -> None:
    both = f"lathe={shop.lathe.pk}&gauge={shop.gauge.pk}"
    assert lead.get(f"charts?channel=height_error&{both}").status_code == 422
    assert lead.get("charts?channel=height_error&view=range").status_code == 422
    assert lead.get("charts?channel=height_error&lathe=99").status_code == 404


def test_sets_of_patterns_tell_their_false_signals(shop: Shop, lead: Bench) -> None:
    """Champ & Woodall, Technometrics 29 (1987): 91.75 jobs for all four zone rules."""
    sets = {one["rule_set"]: one for one in lead.get("rule-sets").json["rule_sets"]}
    assert sets["western_electric"]["jobs_between_false_signals"] == pytest.approx(91.75, abs=0.01)
    assert sets["limits"]["jobs_between_false_signals"] is None
    assert sets["limits"]["tenth_within_jobs"] is None
    # The share of simulated charts within so many jobs: tests/numerics/test_realised_rates.py.
    assert (sets["nelson"]["tenth_within_jobs"], sets["nelson"]["half_within_jobs"]) == (13, 53)
    assert sets["limits"]["is_chosen"]
    assert len(sets["nelson"]["rules"]) == 8


def test_a_rebuild_counts_the_charts(shop: Shop, lead: Bench) -> None:
    cut_some(shop, 3)
    assert lead.post("charts/rebuild", {}).json == {"charts": 11, "differed": []}
