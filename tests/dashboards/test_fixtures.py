"""The list of fixtures, one fixture's page and drawings while nothing has moved."""

from __future__ import annotations

import re
from datetime import timedelta

from django.test import Client
from django.utils import timezone

from qc.models import DriftChannel
from qc.operations import resources
from tests.cutting import cut_job, cut_some
from tests.dashboards.counting import queries_of
from tests.flagged import make_flag
from tests.make import NOON, Shop

LATER = NOON + timedelta(days=60)


def test_a_thin_baseline_says_how_many_more_jobs(shop: Shop, bench: Client) -> None:
    cut_some(shop, 3)
    cut_job(shop, "unclocked", clocking=None, at=LATER)
    page = bench.get(f"/fixtures/{shop.fixture.pk}").text
    assert "Too early to say in 3 jobs" in page
    thin = r"Baseline still thin: (\d+) more of its own jobs until a move of 0.020.mm side to side "
    assert re.search(thin + r"would be found within about \d+ jobs\.", page)
    assert "no clocking recorded" in page
    assert "1 of 4 stay off the chart" in page


def test_a_fixture_nobody_used_has_a_page_too(shop: Shop, bench: Client) -> None:
    page = bench.get(f"/fixtures/{shop.fixture.pk}").text
    assert "Nothing is known of it yet" in page
    for name in ("clock", "lanes"):
        assert bench.get(f"/fixtures/{shop.fixture.pk}/{name}.json").json()["data"] is not None


def test_without_a_flag_a_service_over_the_limit_is_only_recorded(shop: Shop, lead: Client) -> None:
    where = f"/shop/fixtures/{shop.fixture.pk}/service"
    assert lead.post(where, {"kind": "repaired", "as_left_mm": "0.05"}).status_code == 302


def test_an_unknown_fixture_is_not_found(bench: Client) -> None:
    assert bench.get("/fixtures/999").status_code == 404
    assert bench.get("/fixtures/999/clock.json").status_code == 404


def test_lists_and_pages_take_as_many_queries_at_thirty_as_at_three(
    shop: Shop, bench: Client
) -> None:
    where = f"/fixtures/{shop.fixture.pk}"
    addresses = ("/fixtures", where, f"{where}/clock.json", f"{where}/lanes.json")

    def more(count: int, days: int) -> None:
        for n in range(count):
            resources.register_fixture(name=f"Plug {days}.{n}", by=shop.lead, at=timezone.now())
        cut_some(shop, count, begin=NOON + timedelta(days=days))

    more(3, 0)
    few = [queries_of(bench, one) for one in addresses]
    more(27, 40)
    assert [queries_of(bench, one) for one in addresses] == few


def test_the_page_of_a_gauge_tells_its_flags(shop: Shop, bench: Client) -> None:
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    make_flag(round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.HEIGHT, size=0.02)
    page = bench.get(f"/shop/gauges/{shop.gauge.pk}").text
    assert "Micrometer 1 seems to have moved" in page
    assert "gaps come out 0.020\N{NO-BREAK SPACE}mm wider than predicted" in page
