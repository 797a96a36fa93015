"""Where each fixture stands, and how much its own jobs say."""

from __future__ import annotations

from datetime import timedelta

from qc.lookups.pages.fixtures import (
    OWN_JOBS_WANTED,
    FixtureStanding,
    fixture_row,
    fixture_rows,
)
from qc.models import Flag, ServiceKind
from qc.operations import flags, resources
from tests.cutting import cut_job, cut_some
from tests.make import NOON, Shop

LATER = NOON + timedelta(days=60)


def test_own_jobs_wanted_is_noise_over_prior_squared() -> None:
    """By hand: (0.018 / 0.006) squared."""
    assert OWN_JOBS_WANTED == 9


def test_a_baseline_is_thin_until_its_own_jobs_outweigh_the_prior(shop: Shop) -> None:
    cut_some(shop, 8)
    row = fixture_row(shop.fixture)
    assert (row.standing, row.jobs, row.own_jobs) == (FixtureStanding.THIN, 8, 8)
    cut_job(shop, "ninth", at=NOON + timedelta(days=9))
    row = fixture_row(shop.fixture)
    assert row.standing == FixtureStanding.QUIET


def test_a_job_without_clocking_counts_as_a_job_and_not_as_its_own(shop: Shop) -> None:
    cut_job(shop, "unclocked", clocking=None)
    row = fixture_row(shop.fixture)
    assert (row.jobs, row.own_jobs) == (1, 0)


def test_a_service_makes_the_baseline_thin_again(shop: Shop) -> None:
    cut_some(shop, 9)
    event = resources.record_service(
        subject=shop.fixture, kind=ServiceKind.REINDICATED, by=shop.lead, at=LATER
    )
    row = fixture_row(shop.fixture)
    assert (row.standing, row.jobs, row.own_jobs) == (FixtureStanding.THIN, 9, 0)
    assert row.last_service == event


def test_a_flagged_fixture_is_looked_into_and_then_retired(shop: Shop) -> None:
    cut_some(shop, 10)
    cut_some(shop, 6, begin=LATER, side_to_side=0.09, wide_toward=140)
    assert fixture_row(shop.fixture).standing == FixtureStanding.FLAGGED
    flags.look_into(flag=Flag.objects.get(), by=shop.operator, at=LATER)
    assert fixture_row(shop.fixture).standing == FixtureStanding.LOOKED_INTO
    resources.retire(resource=shop.fixture, by=shop.lead, at=LATER, why="Bent for good")
    assert fixture_row(shop.fixture).standing == FixtureStanding.RETIRED


def test_retired_fixtures_come_last(shop: Shop) -> None:
    for name in ("Arbor", "Zeta"):
        resources.register_fixture(name=name, by=shop.lead, at=NOON)
    resources.retire(resource=shop.fixture, by=shop.lead, at=NOON, why="Worn")
    assert [row.name for row in fixture_rows()] == ["Arbor", "Zeta", "Plug A"]
