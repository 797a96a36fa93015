"""The months: means with their intervals, the share inside, and whether the shop is steady."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from qc.lookups.charts.error_charts import FEWEST_JOBS, error_chart
from qc.lookups.pages.accuracy import (
    Steady,
    accuracy_page,
    steadiness,
)
from qc.lookups.pages.months import (
    Month,
    mean_of,
    month_before,
    months_of,
)
from qc.lookups.record.channels import measured_rounds
from qc.models import Channel, Signal
from qc.operations import resources
from tests.cutting import cut_job, cut_some
from tests.make import NOON, Shop
from tests.points import points

DUBLIN = ZoneInfo("Europe/Dublin")
CALM = (0.002, -0.001, 0.001, -0.002)


def steady(db: None, errors: Sequence[float]) -> tuple[Steady, int | None, int | None]:
    told = steadiness(error_chart(Channel.TARGET_ERROR, points=points(errors)))
    return (
        told.steady,
        None if told.since is None else told.since.job_id,
        None if told.left_at is None else told.left_at.job_id,
    )


def months(shop: Shop, errors: Sequence[float], *, begin: datetime = NOON) -> list[Month]:
    """Of jobs one day apart with these target errors."""
    for n, error in enumerate(errors):
        cut_job(shop, f"M-{n}", height=0.50 + error, at=begin + timedelta(days=n), learn=False)
    return months_of(measured_rounds(), Signal.objects.all(), zone=DUBLIN)


def test_a_month_has_its_mean_and_students_interval(shop: Shop) -> None:
    """By hand: s = 0.010, t(0.975, 2) = 4.3027 (any table), half = 4.3027 x 0.010 / sqrt 3."""
    [month] = months(shop, [0.01, 0.02, 0.03])
    assert month.month == date(2026, 3, 1)
    assert month.error.jobs == 3
    assert month.error.mean_mm == pytest.approx(0.02)
    assert month.error.half_mm == pytest.approx(0.024841, abs=1e-6)
    assert month.error.leans == ""
    assert month.share_inside == 1


def test_a_lone_job_has_a_mean_and_no_interval(shop: Shop) -> None:
    [month] = months(shop, [0.06])
    assert (month.error.low_mm, month.error.high_mm, month.error.leans) == (None, None, "")
    assert month.inside == 0


def test_months_are_those_of_the_shops_calendar(shop: Shop) -> None:
    """Measured at half past eleven at night, UTC, on 31 March: half past midnight on 1 April in
    Dublin. The job a day before is of March."""
    late = datetime(2026, 3, 30, 21, 30, tzinfo=UTC)
    assert [(one.month, one.error.jobs) for one in months(shop, [0.0, 0.0], begin=late)] == [
        (date(2026, 3, 1), 1),
        (date(2026, 4, 1), 1),
    ]


def test_months_without_jobs_are_left_out_and_those_long_ago_too(shop: Shop) -> None:
    """18 months up to March 2026 begin with October 2024."""
    cut_job(shop, "too old", at=datetime(2024, 9, 30, 12, tzinfo=UTC), learn=False)
    cut_job(shop, "oldest", at=datetime(2024, 10, 1, 12, tzinfo=UTC), learn=False)
    told = months(shop, [0.0])
    assert [one.month for one in told] == [date(2024, 10, 1), date(2026, 3, 1)]
    assert month_before(measured_rounds(), told, zone=DUBLIN) == date(2024, 9, 1)
    signals = Signal.objects.all()
    earlier = months_of(measured_rounds(), signals, zone=DUBLIN, until=date(2024, 10, 31))
    assert [one.month for one in earlier] == [date(2024, 9, 1), date(2024, 10, 1)]
    assert month_before(measured_rounds(), earlier, zone=DUBLIN) is None


def test_a_month_counts_the_jobs_that_made_signals_not_the_signals(shop: Shop) -> None:
    cut_some(shop, 14)
    cut_job(shop, "far", height=0.58, at=NOON + timedelta(days=15))
    signals = Signal.objects.filter(lathe=None, withdrawn_at=None)
    assert signals.count() > 1
    [month] = months_of(measured_rounds(), signals, zone=DUBLIN)
    assert (month.error.jobs, month.inside, month.signals) == (15, 14, 1)


@pytest.mark.parametrize(("mean", "leans"), [(0.02, "wide"), (-0.02, "tight"), (0.0, "")])
def test_a_mean_leans_where_its_interval_leaves_out_zero(mean: float, leans: str) -> None:
    assert mean_of([mean - 0.001, mean, mean + 0.001]).leans == leans


def test_too_few_jobs_leave_the_baseline_thin(db: None) -> None:
    chart = error_chart(Channel.TARGET_ERROR, points=points([0.0] * (FEWEST_JOBS - 2)))
    told = steadiness(chart)
    assert (told.steady, told.jobs_wanted) == (Steady.THIN, 2)


def test_equal_readings_mean_a_gauge_too_coarse_not_a_steady_shop(db: None) -> None:
    assert steady(db, [0.01] * 20) == (Steady.COARSE, None, None)


def test_a_calm_shop_is_steady_since_its_first_job(db: None) -> None:
    assert steady(db, CALM * 8) == (Steady.YES, 0, None)


def test_a_shop_that_drifts_is_outside_since_it_left_its_limits(db: None) -> None:
    state, since, left_at = steady(db, [*CALM * 8, *[0.012] * 6])
    assert state == Steady.OUTSIDE
    assert since == left_at
    assert left_at is not None
    assert 32 <= left_at <= 34


def test_a_shop_just_back_inside_is_not_called_steady_until_it_has_settled(db: None) -> None:
    away = [*CALM * 8, *[0.012] * 4]
    state, since, left_at = steady(db, [*away, -0.010, -0.010, *CALM])
    assert (state, left_at is not None) == (Steady.JUST_BACK, True)
    assert since is not None
    assert since > 35
    assert steady(db, [*away, -0.010, -0.010, *CALM * 4])[0] == Steady.YES


def test_the_page_of_a_lathe_has_its_own_jobs_alone(shop: Shop) -> None:
    other = resources.register_lathe(name="South lathe", by=shop.lead, at=NOON)
    cut_some(shop, 3)
    cut_job(shop, "outside", height=0.58, at=NOON + timedelta(days=5))
    whole = accuracy_page(lathe=None, zone=DUBLIN, now=NOON + timedelta(days=9))
    assert len(whole.points) == 4
    assert whole.lately is None
    assert whole.last_outside is not None
    assert whole.last_outside.target_error_mm == pytest.approx(0.08)
    assert whole.tolerance_mm == (0.05, 0.05)
    empty = accuracy_page(lathe=other, zone=DUBLIN, now=NOON)
    assert (list(empty.points), list(empty.months), empty.pace) == ([], [], None)
    assert [one.name for one in empty.lathes] == ["North lathe", "South lathe"]


def test_the_last_jobs_together_say_whether_the_shop_is_on_target(shop: Shop) -> None:
    cut_some(shop, 6, height=0.52)
    cut_job(shop, "last", height=0.521, at=NOON + timedelta(days=8))
    page = accuracy_page(lathe=None, zone=DUBLIN, now=NOON + timedelta(days=9))
    assert page.lately is not None
    assert page.lately.leans == "wide"
    assert page.lately.mean_mm == pytest.approx((6 * 0.02 + 0.021) / 7)
    assert page.lately_inside == 7
    assert page.leaning_since == date(2026, 3, 1)
