"""The local level model against the normal distribution it stands for, and against statsmodels."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.tsa.statespace.structural import UnobservedComponents

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.local_level import fit_local_level, local_level


def wander(rng, n, *, sd_noise=1.0, sd_step=0.4):
    return np.cumsum(rng.normal(0, sd_step, n)) + rng.normal(0, sd_noise, n)


def generalised_least_squares(y, var_noise, var_step):
    """Mean and variance of every level given the readings, nothing known of the first."""
    count, seen = np.arange(y.size), np.flatnonzero(~np.isnan(y))
    level = var_step * np.minimum.outer(count, count).astype(float)
    inverse = np.linalg.inv(level[np.ix_(seen, seen)] + var_noise * np.eye(seen.size))
    gain = level[:, seen] @ inverse
    start_var = 1 / inverse.sum()
    start = start_var * inverse.sum(axis=0) @ y[seen]
    left = 1 - gain.sum(axis=1)
    var = np.diag(level - gain @ level[seen]) + start_var * left**2
    return start * left + gain @ y[seen], var


@pytest.mark.parametrize("missing", [[], [0, 1], [3, 4], [8]])
def test_smoothing_is_generalised_least_squares(missing):
    y = wander(np.random.default_rng(111), 9)
    y[missing] = np.nan
    found = local_level(y, var_noise=1.0, var_step=0.16)
    mean, var = generalised_least_squares(y, 1.0, 0.16)
    np.testing.assert_allclose(found.smooth, mean, rtol=1e-9)
    np.testing.assert_allclose(found.smooth_var, var, rtol=1e-9)


@pytest.mark.parametrize("missing", [[], [5, 6, 7], [19]])
def test_filter_and_likelihood_agree_with_statsmodels(missing):
    y = wander(np.random.default_rng(112), 20)
    y[missing] = np.nan
    found = local_level(y, var_noise=1.3, var_step=0.2)
    model = UnobservedComponents(y, "llevel", use_exact_diffuse=True)
    other = model.smooth([1.3, 0.2])
    np.testing.assert_allclose(found.level, other.filtered_state[0], rtol=1e-9)
    np.testing.assert_allclose(found.smooth, other.smoothed_state[0], rtol=1e-9)
    constant = 0.5 * math.log(2 * math.pi)
    assert found.log_likelihood - constant == pytest.approx(other.llf, abs=1e-9)


def test_fit_is_as_high_as_statsmodels_finds():
    y = wander(np.random.default_rng(113), 80)
    found = fit_local_level(y)
    other = UnobservedComponents(y, "llevel", use_exact_diffuse=True).fit(disp=False)
    constant = 0.5 * math.log(2 * math.pi)
    assert found.log_likelihood - constant >= other.llf - 1e-6
    again = local_level(y, var_noise=found.var_noise, var_step=found.var_step)
    assert again.log_likelihood == pytest.approx(found.log_likelihood)


def test_a_level_that_stays_is_fitted_as_staying():
    x = np.random.default_rng(114).normal(size=40)
    # Readings that swing back: more steady than noise alone.
    found = fit_local_level(np.sign(np.arange(40) % 2 - 0.5) + 0.01 * x)
    assert found.var_step == 0.0
    still = local_level([1.0, 2.0, 6.0], var_noise=1.0, var_step=0.0)
    assert still.smooth.tolist() == pytest.approx([3.0, 3.0, 3.0])
    assert still.forecast_var == pytest.approx(1 / 3)


def test_a_stray_reading_and_a_jump_are_told_apart():
    rng = np.random.default_rng(115)
    stray, jump = rng.normal(0, 1, (2, 60))
    stray[30] += 8
    jump[30:] += 8
    one = local_level(stray, var_noise=1.0, var_step=0.05)
    other = local_level(jump, var_noise=1.0, var_step=0.05)
    assert np.nanargmax(np.abs(one.stray)) == 30
    assert np.nanmax(np.abs(one.stray)) > np.nanmax(np.abs(one.jump)) + 2
    assert np.nanargmax(np.abs(other.jump)) == 29  # the step from reading 29 to 30
    assert np.nanmax(np.abs(other.jump)) > np.nanmax(np.abs(other.stray)) + 2


def test_auxiliary_residuals_are_standard_normal_in_control():
    rng = np.random.default_rng(116)
    found = [local_level(wander(rng, 15), var_noise=1.0, var_step=0.16) for _ in range(4000)]
    for name in ("stray", "jump"):
        values = np.array([getattr(one, name)[7] for one in found])
        assert stats.kstest(values, "norm").pvalue > 1e-3


def test_before_the_first_reading_the_level_is_known_only_back_from_it():
    found = local_level([np.nan, np.nan, 1.0, 2.0], var_noise=1.0, var_step=0.5)
    assert found.smooth[:2].tolist() == [found.smooth[2]] * 2
    assert np.diff(found.smooth_var[:3]).tolist() == pytest.approx([-0.5, -0.5])
    assert np.isnan(found.level[:2]).all()


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: local_level([1.0], var_noise=1, var_step=1), TooFewReadings),
        (lambda: local_level([1.0, np.nan], var_noise=1, var_step=1), TooFewReadings),
        (lambda: local_level([1.0, np.inf], var_noise=1, var_step=1), NotFinite),
        (lambda: local_level([1.0, 2.0], var_noise=0, var_step=1), BadInput),
        (lambda: local_level([1.0, 2.0], var_noise=1, var_step=-1), BadInput),
        (lambda: fit_local_level([1.0, 2.0]), TooFewReadings),
        (lambda: fit_local_level([5.0] * 12), BadInput),
    ],
)
def test_what_has_no_level_to_find_is_refused(call, error):
    with pytest.raises(error):
        call()
