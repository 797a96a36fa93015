"""The pages behind the accuracy page: the promise, months and shifts, charts for a wish."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import partial

import pytest
from django.test import Client

from qc.models import ChartsBy, Round, ShopPolicy
from tests.copied import put_season
from tests.cutting import cut_some
from tests.dashboards.counting import queries_of
from tests.make import NOON, Shop

Season = Callable[..., list[Round]]

NB = "\N{NO-BREAK SPACE}"
WISH = {
    "months": "12",
    "jobs_per_month": "25",
    "shift": "0.020 mm",
    "sigma": "0.010 mm",
    "within_jobs": "5",
}


@pytest.fixture
def cut_season(shop: Shop) -> Season:
    """Makes the shop a season of jobs."""
    return partial(put_season, shop)


def test_the_accuracy_page_promises_what_the_jobs_hold(cut_season: Season, bench: Client) -> None:
    """k(25) = 2.64 times s = 0.0058: 0.015 mm."""
    cut_season()
    page = bench.get("/accuracy").text
    assert f"19 of 20 jobs land within ±0.015{NB}mm of target." in page
    assert "steady since" in page
    assert f"Expected out of tolerance: under 0.1{NB}%" in page


def test_nothing_is_promised_while_the_shop_is_not_steady(
    cut_season: Season, bench: Client
) -> None:
    cut_season(60, shifted_by=0.030)
    assert "Nothing until it is steady." in bench.get("/accuracy").text


def test_too_few_jobs_say_how_many_more(cut_season: Season, bench: Client) -> None:
    cut_season(14)
    assert "Nothing yet: 6 more steady jobs." in bench.get("/accuracy").text
    assert "Too few jobs: 6 more." in bench.get("/accuracy/promise").text


def test_a_promise_has_its_indices_and_its_doubts(cut_season: Season, bench: Client) -> None:
    cut_season()
    page = bench.get("/accuracy/promise").text
    for index in ("Cp", "Cpk", "Pp", "Ppk", "Cpm"):
        assert f'<th scope="row">{index}</th>' in page
    assert "take only 5 different values" in page
    wide = bench.get("/accuracy/promise?sides=upper&coverage=0.99").text
    assert f"Expected too wide: under 0.1{NB}%" in wide
    assert '<th scope="row">Cpm</th>' not in wide
    later = (NOON + timedelta(days=10)).date()
    assert "Too few jobs: 5 more." in bench.get(f"/accuracy/promise?since={later}").text
    assert bench.get("/accuracy/promise?sides=left").status_code == 422


def test_differing_tolerances_are_scaled(cut_season: Season, bench: Client) -> None:
    cut_season(tolerances=(0.05, 0.025))
    page = bench.get("/accuracy/promise").text
    assert "of their tolerance" in page
    assert "halves of its own tolerance" in page


def test_an_unsteady_shop_is_refused_unless_told(cut_season: Season, bench: Client) -> None:
    cut_season(shifted_by=0.040)
    page = bench.get("/accuracy/promise").text
    assert "No promise. These jobs are not steady." in page
    assert '<th scope="row">Cpk</th>' not in page
    assert "?since=2026-03-15" in page
    told = bench.get("/accuracy/promise?even_if_unsteady=on").text
    assert "These jobs are not steady" in told
    assert "If it were steady" in told
    assert '<th scope="row">Cpk</th>' in told


def test_an_unsteady_shop_may_begin_after_its_last_shift(cut_season: Season, bench: Client) -> None:
    first = cut_season(60, shifted_by=0.040)[30].job_id
    page = bench.get("/accuracy/promise?coverage=0.90").text
    assert f'<a href="?coverage=0.90&amp;since=2026-04-01">Begin with job {first}' in page
    later = bench.get("/accuracy/promise?coverage=0.90&since=2026-04-01").text
    assert "9 of 10 jobs land within" in later


def test_months_say_when_the_shop_shifted(cut_season: Season, bench: Client) -> None:
    cut_season(30, shifted_by=0.030)
    page = bench.get("/accuracy/months").text
    assert "Shifted about 17 Mar 2026" in page
    assert f"0.030{NB}mm wider." in page
    assert "No shift to be seen in 30 jobs." in page  # of spread
    figure = bench.get("/accuracy/months.json").json()
    assert any(
        shape["type"] == "rect" and shape["xref"] == "x" for shape in figure["layout"]["shapes"]
    )
    assert bench.get("/accuracy/spread.json").json()["data"]


def test_months_of_a_calm_shop_say_so(cut_season: Season, bench: Client) -> None:
    cut_season()
    page = bench.get("/accuracy/months").text
    assert page.count("No shift to be seen in 25 jobs.") == 2
    assert "No steady drift to be seen" in page


def test_months_of_a_young_shop_say_how_many_more(shop: Shop, bench: Client) -> None:
    assert bench.get("/accuracy/months").text.count("Too few jobs to say: 12 more.") == 2


def test_charts_for_a_wish_stand_beside_each_other(shop: Shop, bench: Client) -> None:
    page = bench.get("/accuracy/designs", WISH).text
    # Five, the shop's own, and three sets of patterns.
    assert page.count('data-label="Jobs to find, on average:"') == 9
    assert "about once in 3 months at this pace (73 jobs)" in page  # Nelson
    assert "A false flag about once in 12 months at this pace" in page
    assert "The shop's now: Single jobs and running average" in page.replace("&#x27;", "'")
    assert "allowance k 1.00 sigma" in page  # half of two sigma
    assert "Take one as the shop's own" not in page
    names = [trace["name"] for trace in bench.get("/accuracy/designs.json", WISH).json()["data"]]
    assert len(names) == len(set(names)) == 5


def test_the_shops_own_season_and_scatter_are_the_wish_at_first(
    cut_season: Season, bench: Client
) -> None:
    empty = bench.get("/accuracy/designs").text
    assert "too few jobs to know its own scatter" in empty
    cut_season()
    assert 'value="0.0126 mm"' in bench.get("/accuracy/designs").text


def test_a_wish_that_cannot_be_met_says_why(shop: Shop, bench: Client) -> None:
    answer = bench.get("/accuracy/designs", {**WISH, "shift": "0.0001 mm"})
    assert answer.status_code == 422
    assert "lost in the jobs" in answer.text
    assert 'value="0.0001 mm"' in answer.text
    assert bench.get("/accuracy/designs", {**WISH, "sigma": "wide"}).status_code == 422


def test_a_lead_takes_a_chart(shop: Shop, lead: Client) -> None:
    page = lead.get("/accuracy/designs", WISH).text
    assert 'name="shift" value="0.020 mm"' in page
    sent = {**WISH, "chart": "cusum", "why": "Find a worn edge sooner"}
    done = lead.post("/accuracy/designs/take", sent, follow=True)
    assert "cumulative sums, one for wide and one for tight" in done.text
    policy = ShopPolicy.objects.latest("pk")
    assert (policy.charts_by, policy.cusum_has_head_start) == (ChartsBy.SUMS, False)
    assert policy.why == "Find a worn edge sooner"


def test_what_is_missing_is_asked_for_and_nothing_is_lost(shop: Shop, lead: Client) -> None:
    before = ShopPolicy.objects.count()
    answer = lead.post("/accuracy/designs/take", {**WISH, "chart": "cusum", "why": ""})
    assert answer.status_code == 422
    assert 'value="cusum" required checked' in answer.text
    odd = lead.post("/accuracy/designs/take", {**WISH, "chart": "ewma", "why": "Sooner"})
    assert "single jobs with their running average" in odd.text
    assert ShopPolicy.objects.count() == before


def test_as_many_queries_at_ten_jobs_as_at_three(shop: Shop, bench: Client) -> None:
    pages = [f"/accuracy/{name}" for name in ("promise", "months", "jobs", "designs")]
    cut_some(shop, 3)
    few = [queries_of(bench, one) for one in pages]
    cut_some(shop, 7, begin=NOON + timedelta(days=10))
    assert [queries_of(bench, one) for one in pages] == few
