"""How a gauge stands against standards: bias, linearity, drift, and when it goes out."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from qc.lookups.gauges.gauge_checks import FEWEST_FOR_DRIFT, gauge_standing
from qc.models import Gauge, ServiceKind
from qc.operations import gauge_checks, resources
from tests.make import NOON, Shop
from tests.studies import check_gauge, make_standard

# Eight checks a fortnight apart, no order in them.
SCATTER = ["0.501", "0.499", "0.500", "0.502", "0.498", "0.501", "0.500", "0.499"]


def test_bias_holds_scatter_and_the_standards_own_uncertainty(shop: Shop) -> None:
    standard = make_standard(shop)
    check_gauge(shop, standard, ["0.502", "0.503", "0.504"])
    [row] = gauge_standing(shop.gauge).biases
    assert row.bias_mm == pytest.approx(0.003)
    # t of 2 degrees 4.3027, s 0.001, three readings; the block's 0.0002 doubled.
    scatter = 4.302653 * 0.001 / 3**0.5
    assert row.expanded_mm == pytest.approx((scatter**2 + 0.0004**2) ** 0.5, rel=1e-5)
    assert row.is_off


def test_one_reading_says_nothing_of_its_own_scatter(shop: Shop) -> None:
    check_gauge(shop, make_standard(shop), ["0.502"])
    [row] = gauge_standing(shop.gauge).biases
    assert (row.readings, row.expanded_mm, row.is_off) == (1, None, False)


def test_linearity_needs_two_sizes(shop: Shop) -> None:
    check_gauge(shop, make_standard(shop), ["0.501", "0.502", "0.501"])
    assert gauge_standing(shop.gauge).linearity is None
    check_gauge(shop, make_standard(shop, "Block 2", "2.000"), ["2.004", "2.005"])
    line = gauge_standing(shop.gauge).linearity
    assert line is not None
    # Means off by 0.004/3 at 0.5 and 0.0045 at 2.0.
    assert line.slope == pytest.approx((0.0045 - 0.004 / 3) / 1.5)


@pytest.mark.parametrize(
    ("values", "answer"),
    [
        (SCATTER[: FEWEST_FOR_DRIFT - 1], "thin"),
        (["0.500"] * 9, "coarse"),
        (SCATTER, "steady"),
        ([f"{0.500 - 0.001 * n:.3f}" for n in range(8)], "drifting"),
    ],
)
def test_does_it_drift(shop: Shop, values: list[str], answer: str) -> None:
    check_gauge(shop, make_standard(shop), values, days=14)
    drift = gauge_standing(shop.gauge).drift
    assert drift.answer == answer
    assert drift.checks_wanted == max(0, FEWEST_FOR_DRIFT - len(values))


def test_when_the_drift_goes_out_and_whether_that_is_before_the_calibration(shop: Shop) -> None:
    """0.001 mm a fortnight from zero leaves the gauge's 0.01 mm step after ten fortnights."""
    values = [f"{0.500 + 0.001 * n:.3f}" for n in range(8)]
    check_gauge(shop, make_standard(shop), values, days=14)
    drift = gauge_standing(shop.gauge).drift
    assert drift.allowed_mm == pytest.approx(0.01)
    assert drift.per_year_mm == pytest.approx(0.001 * 365.25 / 14)
    assert drift.reaches_at is not None
    assert abs(drift.reaches_at - (NOON + timedelta(days=140))) < timedelta(minutes=1)
    assert not drift.is_beyond
    assert drift.is_interval_too_long  # it is due on 31 January 2027
    Gauge.objects.update(calibration_due=date(2026, 4, 1))
    assert not gauge_standing(Gauge.objects.get()).drift.is_interval_too_long


def test_a_calibration_starts_afresh_and_void_checks_do_not_count(shop: Shop) -> None:
    standard = make_standard(shop)
    checks = check_gauge(shop, standard, ["0.505"] * 3)
    resources.record_service(
        subject=shop.gauge,
        kind=ServiceKind.CALIBRATED,
        calibration_due=date(2027, 6, 1),
        calibration_u_mm=Decimal("0.001"),
        by=shop.lead,
        at=NOON + timedelta(days=30),
    )
    assert gauge_standing(shop.gauge).biases == []
    [kept, gone] = check_gauge(shop, standard, ["0.501", "0.900"], at=NOON + timedelta(days=31))
    gauge_checks.void_check(check=gone, why="Dirty", by=shop.operator, at=NOON)
    standing = gauge_standing(shop.gauge)
    assert len(standing.checks) == len(checks) + 2
    assert [(row.readings, row.bias_mm) for row in standing.biases] == [
        (1, pytest.approx(kept.off_mm))
    ]
