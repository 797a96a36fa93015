"""One fixture's page: what moved, since when, how far, toward where; what stays off its chart."""

from __future__ import annotations

from datetime import timedelta

import pytest

from qc.lookups.pages.fixture_page import fixture_page
from qc.models import ServiceKind
from qc.operations import resources
from tests.cutting import cut_job, cut_some
from tests.make import NOON, Shop

LATER = NOON + timedelta(days=60)
NOW = NOON + timedelta(days=90)
AT_20 = 20 / 19.4


def test_a_quiet_fixture_has_an_estimate_and_no_flag(shop: Shop) -> None:
    cut_some(shop, 10)
    page = fixture_page(shop.fixture, now=NOW, by=shop.viewer)
    assert page.flag is None
    assert page.estimate is not None
    assert page.estimate.side_to_side_mm < 0.002
    assert len(page.current) == len(page.charted) == 10


def test_a_knock_is_told_as_its_first_job_its_size_and_its_direction(shop: Shop) -> None:
    """The lean is 0.090 mm at the 19.4 mm where the solder was crushed: more at 20 mm."""
    cut_some(shop, 10)
    first, *_ = cut_some(shop, 6, begin=LATER, side_to_side=0.09, wide_toward=140)
    page = fixture_page(shop.fixture, now=NOW, by=shop.viewer)
    assert page.flag is not None
    assert page.flag.title == "Plug A seems to have moved"
    assert page.flag.since.job_id == first.pk
    assert page.flag.earliest is not None
    assert page.flag.latest is not None
    assert page.flag.earliest.at <= page.flag.since.at <= page.flag.latest.at
    assert page.flag.side_to_side_mm == pytest.approx(0.09 * AT_20, rel=0.2)
    assert page.flag.wide_deg == pytest.approx(140, abs=5)
    assert page.estimate is not None
    assert page.estimate.wide_deg == pytest.approx(140, abs=3)
    strokes = [one for one in page.current if one.at >= LATER]
    assert [one.side_to_side_mm for one in strokes] == pytest.approx([0.09 * AT_20] * 6, rel=0.01)
    assert [one.wide_deg for one in strokes] == pytest.approx([140] * 6, abs=1)


def test_a_service_leaves_the_jobs_and_starts_the_chart_afresh(shop: Shop) -> None:
    cut_some(shop, 10)
    cut_some(shop, 6, begin=LATER, side_to_side=0.09, wide_toward=140)
    after = LATER + timedelta(days=10)
    resources.record_service(
        subject=shop.fixture, kind=ServiceKind.REINDICATED, by=shop.lead, at=after
    )
    page = fixture_page(shop.fixture, now=NOW, by=shop.viewer)
    assert page.flag is None
    assert page.estimate is None
    assert page.begins_at == after
    assert len(page.jobs) == 16
    assert list(page.current) == []
    assert [line.flag.get_state_display() for line in page.past_flags] == ["cleared by service"]


def test_jobs_off_the_chart_say_why(shop: Shop) -> None:
    cut_job(shop, "unclocked", clocking=None)
    cut_job(shop, "two", positions=(0, 180), at=NOON + timedelta(days=1))
    cut_job(shop, "one", positions=(90,), at=NOON + timedelta(days=2))
    cut_job(shop, "quarter", positions=(0, 60, 90), at=NOON + timedelta(days=3))
    cut_job(shop, "four", at=NOON + timedelta(days=4))
    page = fixture_page(shop.fixture, now=NOW, by=shop.viewer)
    assert [one.why_off.split(":")[0] for one in page.left_out] == [
        "no clocking recorded",
        "measured at two positions",
        "measured at one position",
        "its positions do not reach round the bore",
    ]
    assert len(page.charted) == 1


def test_the_allowed_difference_is_the_evenness_limit_at_20_mm(shop: Shop) -> None:
    """By hand: 0.060 mm at 19.4 mm is 0.060 x 20 / 19.4 at 20 mm."""
    assert fixture_page(shop.fixture, now=NOW, by=shop.viewer).allowed_mm == pytest.approx(0.060)
    cut_job(shop, "one")
    assert fixture_page(shop.fixture, now=NOW, by=shop.viewer).allowed_mm == pytest.approx(
        0.060 * AT_20
    )


def test_the_pace_of_false_flags_counts_every_fixture(shop: Shop) -> None:
    """300 jobs a false flag; 12 jobs in the first month are 12 a month: 25 months, two years."""
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    assert fixture_page(shop.fixture, now=NOW, by=shop.viewer).pace is None
    cut_some(shop, 6)
    cut_some(shop, 6, begin=NOON + timedelta(days=7), fixture=other)
    now = NOON + timedelta(days=20)
    assert (
        fixture_page(shop.fixture, now=now, by=shop.viewer).pace
        == "about once in 2 years at this pace"
    )
