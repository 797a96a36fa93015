"""False flags are wished a season: how many jobs that is comes from the shop's own pace."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from qc.lookups.watch.drift_pace import (
    FRESH,
    budget_at,
    one_more,
)
from qc.models import ShopPolicy
from qc.numerics.drift import Budget

START = datetime(2026, 1, 5, tzinfo=UTC)
POLICY = ShopPolicy(false_flags_per_season=Decimal(1), season_jobs=300, season_months=12)


def after(days: int, *, jobs_a_day: float, policy: ShopPolicy = POLICY) -> Budget:
    pace, last = dict(FRESH), None
    for job in range(round(days * jobs_a_day)):
        at = START + timedelta(days=job / jobs_a_day)
        pace = one_more(pace, policy, last=last, at=at)
        last = at
    return budget_at(pace, policy)


def test_at_first_it_is_what_the_settings_say():
    assert budget_at(FRESH, POLICY).jobs == pytest.approx(300)
    assert after(1, jobs_a_day=1).jobs == pytest.approx(300, rel=0.02)


@pytest.mark.parametrize("jobs_a_year", [60, 300, 1000])
def test_after_some_seasons_it_is_what_the_shop_does(jobs_a_year):
    got = after(4 * 365, jobs_a_day=jobs_a_year / 365.2425)
    # A fifth of the typed 300 still counts beside four fifths of the shop's own.
    assert got.jobs == pytest.approx((jobs_a_year + 0.25 * 300) / 1.25, rel=0.03)
    assert got.false_flags == 1


def test_a_shop_that_became_busier_is_judged_by_its_new_pace():
    pace, last, at = dict(FRESH), None, START
    for years, jobs_a_year in ((3, 100), (3, 900)):
        for _ in range(years * jobs_a_year):
            at += timedelta(days=365.2425 / jobs_a_year)
            pace = one_more(pace, POLICY, last=last, at=at)
            last = at
    assert 700 < budget_at(pace, POLICY).jobs < 900


def test_a_shorter_season_holds_fewer_jobs():
    half = ShopPolicy(false_flags_per_season=Decimal(1), season_jobs=300, season_months=6)
    assert after(2000, jobs_a_day=1, policy=half).jobs == pytest.approx(
        (182.6 + 75) / 1.25, rel=0.03
    )
