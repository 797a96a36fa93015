"""Pages that look back read as much after a long history as after a short one, and say how far."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from qc.lookups.charts import designs, error_charts
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP, scope_of
from qc.lookups.pages import accuracy, fixture_page, resource_lanes
from qc.models import Channel
from qc.operations import resources
from qc.operations.stored_charts import rebuild
from tests.copied import copy_job
from tests.cutting import cut_job
from tests.dashboards.counting import cost_of
from tests.make import NOON, Shop
from tests.points import CYCLE

LOOKS_BACK = 50
SHOWN = 20
SHORT, LONG = 80, 140
PAGES = (
    "/accuracy",
    "/accuracy?lathe={lathe}",
    "/accuracy/jobs",
    "/accuracy/target-error.json",
    "/accuracy/months",
    "/accuracy/months.json",
    "/accuracy/spread.json",
    "/accuracy/promise",
    "/accuracy/designs",
    "/fixtures",
    "/fixtures/{fixture}",
    "/fixtures/{fixture}/lanes.json",
    "/fixtures/{fixture}/clock.json",
    "/shop/lathes/{lathe}",
    "/shop/lathes/{lathe}/lanes.json",
    "/shop/edges/{edge}",
    "/shop/gauges/{gauge}",
    "/jobs?used=edge-{edge}",
)


@pytest.fixture
def history(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """`history(80)` makes the shop have so many jobs in all, ten minutes apart up to NOON; pages
    look back over fewer than they really do."""
    monkeypatch.setattr(accuracy, "NEWEST", LOOKS_BACK)
    monkeypatch.setattr(error_charts, "SETTLES_IN", 10)
    monkeypatch.setattr(designs, "NEWEST", LOOKS_BACK)
    monkeypatch.setattr(fixture_page, "SHOWN", SHOWN)
    monkeypatch.setattr(fixture_page, "CHARTED", 2 * SHOWN)
    monkeypatch.setattr(resource_lanes, "SHOWN", SHOWN)
    like = cut_job(shop, "like", learn=False)
    had = 0

    def make(jobs: int) -> None:
        nonlocal had
        errors = [CYCLE[n % 5] for n in range(had, jobs)]
        copy_job(
            like,
            at=[NOON - timedelta(minutes=10 * (jobs - n)) for n in range(jobs - had)],
            target_error_mm=errors,
            height_error_mm=errors,
            spread_mm=[0.004 + 0.001 * (n % 3) for n in range(had, jobs)],
        )
        had = jobs
        for scope in (SHOP, scope_of(shop.lathe)):
            rebuild(ErrorChartKept(Channel.TARGET_ERROR, scope))

    return make


def test_a_longer_history_is_no_more_rows_and_no_more_queries(
    shop: Shop,
    history: Callable[[int], None],
    bench: Client,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    keys = {kind: getattr(shop, kind).pk for kind in ("lathe", "fixture", "edge", "gauge")}
    pages = [one.format(**keys) for one in PAGES]
    history(SHORT)
    few = {one: cost_of(bench, one) for one in pages}
    history(LONG)
    assert {one: cost_of(bench, one) for one in pages} == few
    monkeypatch.setattr(accuracy, "NEWEST", 10 * LONG)
    assert cost_of(bench, "/accuracy")[1] > LONG  # a page that reads every job is seen to


def test_pages_say_how_far_they_look_and_where_the_rest_is(
    shop: Shop, history: Callable[[int], None], bench: Client
) -> None:
    history(SHORT)
    for page in ("accuracy", "accuracy/jobs", "accuracy/months"):
        text = bench.get(f"/{page}").text
        assert "looks at the last 50 jobs" in text
        assert 'see <a href="/jobs">' in text.split("30 jobs came before", 1)[1]
    assert "or before" in bench.get("/accuracy").text
    assert "from the last 50 jobs since" in bench.get("/accuracy/promise").text
    fixture = bench.get(f"/fixtures/{shop.fixture.pk}").text
    assert "the last 20 of 80 jobs" in fixture
    edge = bench.get(f"/shop/edges/{shop.edge.pk}").text
    assert "These are the last 20." in edge
    assert f'href="/jobs?used=edge-{shop.edge.pk}"' in edge


def test_pages_of_a_short_history_speak_of_no_older_jobs(
    shop: Shop, history: Callable[[int], None], bench: Client
) -> None:
    history(SHOWN)
    for page in ("accuracy", "accuracy/months", f"fixtures/{shop.fixture.pk}"):
        text = bench.get(f"/{page}").text
        assert "before" not in text.split("<main", 1)[1]
    assert "These are the last" not in bench.get(f"/shop/edges/{shop.edge.pk}").text


def test_jobs_are_numbered_as_the_whole_chart_numbers_them(
    history: Callable[[int], None], bench: Client
) -> None:
    history(SHORT)
    drawn = bench.get("/accuracy/target-error.json").json()
    low, high = drawn["layout"]["xaxis"]["range"]
    assert (round(low + 0.9), round(high - 0.9)) == (SHORT - LOOKS_BACK + 10 + 1, SHORT)


def test_the_list_of_jobs_finds_those_done_with_one_thing(
    shop: Shop, history: Callable[[int], None], bench: Client
) -> None:
    history(SHOWN)
    spare = resources.register_fixture(name="Spare", by=shop.lead, at=NOON)
    cut_job(shop, "elsewhere", fixture=spare, learn=False)
    page = bench.get(f"/jobs?used=fixture-{spare.pk}").text
    assert "1 job done with Spare" in page
    assert "elsewhere" in page
    page = bench.get(f"/jobs?used=gauge-{shop.gauge.pk}").text
    assert f"{SHOWN + 2} jobs done with {shop.gauge.name}" in page
    assert f'name="used" value="gauge-{shop.gauge.pk}"' in page
    assert bench.get("/jobs?used=gauge-999").status_code == 404
    assert "done with" not in bench.get("/jobs?used=spanner-1").text
