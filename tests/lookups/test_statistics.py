"""Capability, shifts and charts for a wish, from made-up jobs and without a database."""

from __future__ import annotations

from dataclasses import replace

import pytest

from qc.errors import BadInput
from qc.lookups.charts.capability import (
    FEWEST_JOBS,
    CapabilityWish,
    shop_capability,
)
from qc.lookups.charts.designs import (
    ChartWish,
    design_in_force,
    designs_for,
    own_sigma_mm,
)
from qc.lookups.charts.shifts import (
    LEAST_SPREAD_MM,
    spread_shifts,
    target_error_shifts,
)
from qc.models import ChartsBy, RuleSet, ShopPolicy
from tests.points import CYCLE, points, season

WISH = ChartWish(months=12, jobs_per_month=25, shift_mm=0.02, sigma_mm=0.01)


def test_the_promise_reaches_to_the_farther_end() -> None:
    told = shop_capability(points([one + 0.002 for one in CYCLE * 5]), CapabilityWish())
    assert told.found is not None
    assert told.within == pytest.approx(told.found.tolerance.high)
    assert told.found.tolerance.high > -told.found.tolerance.low
    assert shop_capability(season(25), CapabilityWish(sides="upper")).within is None


def test_an_uneven_tolerance_is_measured_from_its_middle() -> None:
    """-0.02 to +0.06 about the target: the middle is +0.02, the half 0.04, zero lies at -0.5."""
    jobs = season(25, tolerances=(0.05, 0.025))
    jobs = [replace(one, tol_minus_mm=0.02, tol_plus_mm=0.06) for one in jobs]
    jobs[0] = replace(jobs[0], tol_minus_mm=0.04, tol_plus_mm=0.12, target_error_mm=-0.016)
    told = shop_capability(jobs, CapabilityWish())
    assert (told.is_scaled, told.lower, told.upper) == (True, -1, 1)
    assert told.found is not None
    assert told.found.mean == pytest.approx(-0.5, abs=0.01)
    assert told.found.overall.cpm is None  # the targets lie at no one place
    same = shop_capability([replace(one, tol_plus_mm=0.06) for one in jobs[1:]], CapabilityWish())
    assert (same.is_scaled, same.lower, same.upper) == (False, -0.02, 0.06)


def test_a_side_without_tolerance_is_refused() -> None:
    jobs = season(25, tolerances=(0.05, 0.0))
    with pytest.raises(BadInput, match="no tolerance on that side"):
        shop_capability(jobs, CapabilityWish(sides="upper"))


def test_a_coarse_gauge_promises_nothing() -> None:
    told = shop_capability(points([0.01] * FEWEST_JOBS), CapabilityWish())
    assert told.found is None
    assert "too coarse" in told.refusal


def test_the_job_that_stands_out_is_named() -> None:
    errors = [*CYCLE * 5]
    errors[17] = 0.060
    told = shop_capability(points(errors), CapabilityWish())
    assert told.found is None
    assert told.stands_out is not None
    assert told.stands_out.job_id == 17


def test_jobs_that_shifted_or_drift_promise_nothing() -> None:
    """Each job lies where its neighbours do, so none stands out; together they moved."""
    shifted = points([*CYCLE * 10, *(one + 0.010 for one in CYCLE * 10)])
    told = shop_capability(shifted, CapabilityWish())
    assert told.found is None
    assert told.shifted_at is not None
    assert told.shifted_at.job_id in (49, 50)  # 0.008 is near either level
    assert told.refusal == "These jobs shifted while they were made."
    drifting = points([one + 0.0001 * n for n, one in enumerate(CYCLE * 10)])
    told = shop_capability(drifting, CapabilityWish())
    assert (told.found, told.drifts, told.shifted_at) == (None, True, None)
    told = shop_capability(drifting, CapabilityWish(even_if_unsteady=True))
    assert told.found is not None
    assert not told.is_steady
    assert shop_capability(shifted[50:], CapabilityWish()).is_steady


def test_levels_meet_where_the_shift_is() -> None:
    found = target_error_shifts(season(30, shifted_by=-0.030))
    [shift] = found.shifts
    assert shift.job.job_id == 15
    assert shift.step_mm == pytest.approx(-0.030)
    assert [one.mean_mm for one in found.levels] == pytest.approx([0.0, -0.030])
    assert found.levels[1].since == shift.job.at


def test_a_spread_is_levelled_by_its_logarithm() -> None:
    """Levels of 0.004 and 0.016 with a third either way: geometric means, by hand."""
    low, high = (0.003, 0.004, 0.016 / 3), (0.012, 0.016, 0.064 / 3)
    found = spread_shifts(points([0.0] * 30, spreads=(*low * 5, *high * 5)))
    [shift] = found.shifts
    assert (shift.before_mm, shift.after_mm) == pytest.approx((0.004, 0.016))
    still = spread_shifts(points([0.0] * 20, spreads=(0.0,)))
    assert [one.mean_mm for one in still.levels] == pytest.approx([LEAST_SPREAD_MM])
    assert not still.shifts
    assert still.trend is not None
    assert still.trend.p is None


def test_jobs_without_repeats_have_no_spread() -> None:
    assert spread_shifts(points(CYCLE * 5)).jobs_wanted == 12


def test_a_shop_knows_its_scatter_from_a_dozen_jobs_that_differ() -> None:
    assert own_sigma_mm([one.target_error_mm for one in season(11)]) is None
    assert own_sigma_mm([0.01] * 20) is None
    errors = [one.target_error_mm for one in season(20)]
    assert own_sigma_mm(errors) == pytest.approx(0.012 / 0.95387, rel=1e-4)


def test_each_chart_has_a_key_of_its_own_and_two_kinds_can_be_taken() -> None:
    rows = designs_for(WISH)
    assert len({one.key for one in rows}) == len(rows) == 5
    taken = {one.key for one in rows if one.can_be_taken}
    assert taken == {"individuals_and_ewma", "cusum", "cusum_head_start"}


def test_the_chart_in_force_is_the_policys() -> None:
    pair = design_in_force(ShopPolicy(), WISH)
    assert pair is not None
    assert pair.key == "individuals_and_ewma"
    assert (pair.design.weight, pair.design.arl0) == (0.2, 300)
    beside_patterns = design_in_force(ShopPolicy(rule_set=RuleSet.NELSON), WISH)
    assert beside_patterns is not None
    assert (beside_patterns.key, beside_patterns.design.individuals) == ("ewma", None)
    sums = design_in_force(ShopPolicy(charts_by=ChartsBy.SUMS, cusum_k="0.75"), WISH)
    assert sums is not None
    assert (sums.key, sums.design.k) == ("cusum_head_start", 0.75)
