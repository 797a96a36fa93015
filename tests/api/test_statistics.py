"""Capability, shifts and charts for a wish, as a bench tool asks for them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest

from qc.models import Round, ShopPolicy
from qc.numerics.patterns import ISO_7870_2, NELSON
from qc.numerics.run_length import cusum_arl, individuals_ewma_arl, rule_arl
from tests.api.bench import Bench, mm
from tests.copied import put_season
from tests.make import NOON, Shop

Season = Callable[..., list[Round]]

WISH = {
    "months_between_false_flags": 12,
    "jobs_per_month": 25,
    "shift": mm("0.020"),
    "sigma": mm("0.010"),
}


@pytest.fixture
def cut_season(shop: Shop) -> Season:
    """Makes the shop a season of jobs."""
    return partial(put_season, shop)


def test_capability_by_hand(cut_season: Season, viewer: Bench) -> None:
    """Errors -0.008..0.008 in steps of 0.004 by turns: the sd is s of 25 readings, five of each."""
    cut_season(25)
    told = viewer.get("capability").json
    found = told["found"]
    sd = (5 * (2 * 0.008**2 + 2 * 0.004**2) / 24) ** 0.5
    assert (told["scale"], told["lower"], told["upper"]) == ("mm", -0.05, 0.05)
    assert found["mean"] == pytest.approx(0)
    assert found["sd"] == pytest.approx(sd)
    assert found["indices"]["pp"]["value"] == pytest.approx(0.1 / (6 * sd))
    # Howe by hand: 1.96 sqrt(1 + 1/25) sqrt(24 / 13.848) = 2.631; the exact factor is a shade more.
    assert told["within"] == pytest.approx(2.631 * sd, rel=4e-3)
    one_sided = viewer.get("capability?sides=upper").json
    assert one_sided["found"]["indices"]["pp"]["value"] is None
    assert one_sided["lower"] is None


def test_few_jobs_say_how_many_more(cut_season: Season, viewer: Bench) -> None:
    cut_season(12)
    told = viewer.get("capability").json
    assert (told["jobs"], told["jobs_wanted"], told["found"]) == (12, 8, None)
    later = (NOON + timedelta(days=6)).isoformat().replace("+00:00", "Z")
    assert viewer.get(f"capability?since={later}").json["jobs_wanted"] == 14


def test_an_unsteady_record_is_refused_unless_asked_all_the_same(
    cut_season: Season, viewer: Bench
) -> None:
    cut_season(shifted_by=0.040)
    told = viewer.get("capability").json
    assert told["found"] is None
    assert "not steady" in told["refusal"]
    assert told["stands_out"] is not None
    anyway = viewer.get("capability?even_if_unsteady=true").json["found"]
    assert not anyway["is_steady"]
    assert anyway["unsteady_jobs"][0] == told["stands_out"]


def test_a_shift_has_its_day_and_its_step(cut_season: Season, viewer: Bench) -> None:
    cut_season(30, shifted_by=0.030)
    told = viewer.get("shifts").json["target_error"]
    [shift] = told["shifts"]
    assert float(shift["step"]["value"]) == pytest.approx(0.030)
    assert shift["at"] == (NOON + timedelta(days=15)).isoformat().replace("+00:00", "Z")
    assert shift["earliest"] <= shift["at"] <= shift["latest"]
    assert [one["jobs"] for one in told["levels"]] == [15, 15]
    assert told["trend"]["is_seen"]
    assert viewer.get("shifts").json["spread"]["shifts"] == []


def test_designs_keep_the_wish(shop: Shop, viewer: Bench) -> None:
    before = ShopPolicy.objects.count()
    told = viewer.post("sums/chart-designs", WISH).json
    charts = {one["chart"]: one for one in told["charts"]}
    pair, sums = charts["individuals_and_ewma"], charts["cusum_head_start"]
    arl = individuals_ewma_arl(
        pair["individuals_width"], pair["ewma_width"], weight=pair["ewma_weight"]
    )
    assert arl == pytest.approx(300, rel=1e-5)
    head = sums["cusum_head_start"]
    assert cusum_arl(k=sums["cusum_k"], h=sums["cusum_h"], head_start=head) == pytest.approx(300)
    assert sums["cusum_k"] == 1.0  # half of two sigma
    for one in told["charts"]:
        assert one["false_flags"]["mean"] == pytest.approx(300, rel=1e-5)
        assert one["pace"] == "about once in 12 months at this pace"
        assert one["found"]["half"] <= one["found"]["nine_tenths"]
    assert told["in_force"]["chart"] == "individuals_and_ewma"
    patterns = {one["rule_set"]: one for one in told["patterns"]}
    assert patterns["nelson"]["false_flags"]["mean"] == pytest.approx(rule_arl(NELSON))
    assert patterns["iso_7870_2"]["found"]["mean"] == pytest.approx(
        rule_arl(ISO_7870_2, shift=2.0, settled=True)
    )
    assert not any(one["is_chosen"] for one in patterns.values())
    assert ShopPolicy.objects.count() == before


def test_what_is_left_out_is_the_shops_own(cut_season: Season, viewer: Bench) -> None:
    """One false flag a season of 12 months; sigma is the median moving range over 0.954, and the
    ranges of the errors, 0.012, 0.004, 0.004, 0.012 and 0.016 by turns, the median 0.012."""
    lone = viewer.post("sums/chart-designs", {"shift": mm("0.02")})
    assert (lone.status_code, lone.json["fields"][0]["name"]) == (422, "sigma")
    cut_season()
    wish = viewer.post("sums/chart-designs", {"shift": mm("0.02")}).json["wish"]
    assert wish["months_between_false_flags"] == 12
    assert float(wish["sigma"]["value"]) == pytest.approx(0.012 / 0.95387, rel=1e-3)


def test_a_lead_takes_a_design(shop: Shop, lead: Bench) -> None:
    body = {**WISH, "chart": "individuals_and_ewma", "why": "Find a worn edge sooner"}
    told = lead.post("charts/design", {**body, "shift": mm("0.008")})
    assert told.status_code == 200, told.content
    policy = ShopPolicy.objects.latest("pk")
    assert policy.ewma_weight == Decimal(str(told.json["ewma_weight"])).quantize(Decimal("0.01"))
    assert policy.ewma_weight < Decimal("0.20")
    assert policy.why == "Find a worn edge sooner"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"chart": "medians"}, "bad_input"),
        ({"chart": "individuals"}, "bad_input"),
        ({"shift": mm("0")}, "bad_input"),
        ({"shift": mm("0.0001")}, "bad_input"),
        ({"months_between_false_flags": 0}, "bad_input"),
        ({"months_between_false_flags": 90000}, "bad_input"),
        ({"why": ""}, "blank"),
    ],
)
def test_what_cannot_be_taken(
    changes: dict[str, object], code: str, shop: Shop, lead: Bench
) -> None:
    before = ShopPolicy.objects.count()
    answer = lead.post("charts/design", {**WISH, "chart": "cusum", "why": "Sooner", **changes})
    assert (answer.status_code, answer.json["code"]) == (422, code), answer.content
    assert ShopPolicy.objects.count() == before


@pytest.mark.parametrize("query", ["coverage=1", "confidence=0", "sides=left", "lathe=0"])
def test_what_cannot_be_asked(query: str, shop: Shop, viewer: Bench) -> None:
    assert viewer.get(f"capability?{query}").status_code == 422
