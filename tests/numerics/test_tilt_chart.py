"""The fixture's tilt chart: fair from the first job, quick on a knock, right on where and when."""

import math

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite
from qc.numerics.constant_bias import ConstantBias
from qc.numerics.run_length import limit_for_false_flags, mewma_limit
from qc.numerics.tilt_chart import (
    NOISE_SD_MM,
    PRIOR_SD_MM,
    WEIGHT,
    pooled_tilt_noise,
    tilt_chart,
)

LIMIT = mewma_limit(300, weight=WEIGHT)


def stretch(rng, jobs, *, noise_sd_mm=NOISE_SD_MM):
    return rng.normal(0, PRIOR_SD_MM, 2) + rng.normal(0, noise_sd_mm, (jobs, 2))


def test_surprises_are_standard_normal_and_independent_from_the_first_job():
    # 100 000 stretches of six jobs: covariance of the twelve surprises against the unit matrix.
    rng = np.random.default_rng(5)
    runs = 100_000
    seen = np.empty((runs, 12))
    tilt = rng.normal(0, 0.02, (runs, 1, 2)) + rng.normal(0, 0.018, (runs, 6, 2))
    for i in range(0, runs, 10):
        bias = ConstantBias(
            tilt[i : i + 10].transpose(1, 0, 2).reshape(6, 20),
            noise_var=0.018**2,
            prior_var=0.02**2,
        )
        seen[i : i + 10] = bias.surprise.reshape(6, 10, 2).transpose(1, 0, 2).reshape(10, 12)
    off = seen.T @ seen / runs - np.eye(12)
    assert np.abs(seen.mean(axis=0)).max() < 4.5 / math.sqrt(runs)
    assert np.abs(off).max() < 4.5 * math.sqrt(2 / runs)


def test_a_stretch_by_hand():
    # Noise and prior of variance 1: the bias after k readings is N(sum / (k + 1), 1 / (k + 1)).
    y = [[2.0, 0.0], [0.0, 4.0]]
    chart = tilt_chart(y, limit=100.0, noise_sd_mm=1.0, prior_sd_mm=1.0, weight=1.0)
    first = 2.0**2 / 2
    second = (1.0**2 + 4.0**2) / 1.5
    assert chart.statistic.tolist() == pytest.approx([first, second])
    np.testing.assert_allclose(chart.estimate_mm, [[1.0, 0.0], [2 / 3, 4 / 3]])
    np.testing.assert_allclose(chart.estimate_cov_mm2[1], np.eye(2) / 3)
    assert chart.changes == ()
    assert chart.current_change is None


def test_a_knock_is_found_dated_and_measured():
    rng = np.random.default_rng(9)
    tilt = stretch(rng, 60)
    shift = 0.080 * np.array([math.cos(math.radians(140)), math.sin(math.radians(140))])
    tilt[40:] += shift
    chart = tilt_chart(tilt, limit=LIMIT)
    change = chart.current_change
    assert not chart.signal[:40].any()
    assert change.signalled_at - 40 <= 2
    assert change.onset == 40
    assert change.onset_from <= 40 <= change.onset_to
    # Sd of the difference of two means, on either axis: 0.018 sqrt(1/20 + 1/40) = 0.005.
    assert change.size_mm == pytest.approx(0.080, abs=0.016)
    assert change.direction_deg == pytest.approx(140, abs=12)
    np.testing.assert_allclose(change.after_mm, tilt[40:].mean(axis=0))
    np.testing.assert_allclose(chart.estimate_mm[-1], change.after_mm)
    np.testing.assert_allclose(change.after_cov_mm2, NOISE_SD_MM**2 / 20 * np.eye(2))


def test_what_came_before_a_service_event_is_forgotten():
    rng = np.random.default_rng(10)
    tilt = np.vstack([stretch(rng, 30) + np.array([0.1, 0.0]), stretch(rng, 25)])
    start = np.arange(55) == 30
    chart = tilt_chart(tilt, limit=LIMIT, stretch_start=start)
    alone = tilt_chart(tilt[30:], limit=LIMIT)
    assert chart.statistic[30:].tolist() == alone.statistic.tolist()
    assert chart.estimate_mm[30:].tolist() == alone.estimate_mm.tolist()
    assert len(chart.changes) == 1
    assert chart.changes[0].onset == 0
    assert chart.current_change is None
    assert chart.stretch_begins_at == 30


def test_turning_the_frame_turns_the_answer():
    rng = np.random.default_rng(12)
    tilt = stretch(rng, 40)
    tilt[25:] += [0.05, 0.02]
    turn = math.radians(75)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    plain = tilt_chart(tilt, limit=LIMIT)
    turned = tilt_chart(tilt @ rotation.T, limit=LIMIT)
    np.testing.assert_allclose(turned.statistic, plain.statistic, rtol=1e-9)
    gain = turned.current_change.direction_deg - plain.current_change.direction_deg
    assert gain % 360 == pytest.approx(75)


def test_the_same_numbers_in_another_unit_give_the_same_chart():
    tilt = stretch(np.random.default_rng(13), 20)
    mm = tilt_chart(tilt, limit=LIMIT)
    um = tilt_chart(
        1000 * tilt, limit=LIMIT, noise_sd_mm=1000 * NOISE_SD_MM, prior_sd_mm=1000 * PRIOR_SD_MM
    )
    np.testing.assert_allclose(um.statistic, mm.statistic, rtol=1e-12)


def season(rng, limit, *, jobs, noise_sd_mm):
    """False flags of `jobs` on 8 fixtures drawn at random, noise pooled from the season itself.

    After a flag the fixture is put right and starts a new stretch.
    """
    counts = np.bincount(rng.integers(0, 8, jobs), minlength=8)
    fixtures = [stretch(rng, count, noise_sd_mm=noise_sd_mm) for count in counts]
    noise = pooled_tilt_noise(fixtures)
    flags = 0
    for rest in fixtures:
        while len(rest):
            fired = np.flatnonzero(tilt_chart(rest, limit=limit, noise_sd_mm=noise).signal)
            if fired.size == 0:
                break
            flags += 1
            rest = stretch(rng, len(rest) - fired[0] - 1, noise_sd_mm=noise_sd_mm)
    return flags


def mean_flags(*, jobs, noise_sd_mm, seasons):
    """Mean false flags a season at a limit for one, and its Monte Carlo error."""
    rng = np.random.default_rng(14)
    limit = limit_for_false_flags(1, jobs, weight=WEIGHT)
    flags = [season(rng, limit, jobs=jobs, noise_sd_mm=noise_sd_mm) for _ in range(seasons)]
    mean, error = float(np.mean(flags)), float(np.std(flags)) / math.sqrt(seasons)
    print(f"{mean:.3f} false flags a season, Monte Carlo error {error:.3f}")
    return mean, error


@pytest.mark.parametrize("noise_sd_mm", [0.015, 0.018, 0.021])
def test_at_most_one_false_flag_in_a_season_of_300_jobs(noise_sd_mm):
    mean, error = mean_flags(jobs=300, noise_sd_mm=noise_sd_mm, seasons=800)
    assert mean + 2 * error < 1.0
    assert mean > 0.4  # a limit far too wide would pass the line above


def test_a_season_of_300_jobs_on_each_fixture_is_near_the_wished_one():
    # Long stretches use up what short ones leave of the allowance; noise pooled from the season.
    mean, error = mean_flags(jobs=2400, noise_sd_mm=NOISE_SD_MM, seasons=300)
    assert mean - 2 * error < 1.0 < mean + 0.4


def test_pooled_noise_finds_the_truth_and_shrugs_off_jumps():
    rng = np.random.default_rng(15)
    steady = [stretch(rng, 400, noise_sd_mm=0.03) for _ in range(10)]
    # Relative error of this median-based sd over 4000 differences: about 1.3 %.
    assert pooled_tilt_noise(steady) == pytest.approx(0.03, rel=0.05)
    knocked = [np.vstack([one[:200], one[200:] + 1.0]) for one in steady]
    assert pooled_tilt_noise(knocked) == pytest.approx(pooled_tilt_noise(steady), rel=0.01)


def test_pooled_noise_of_nothing_is_the_default():
    assert pooled_tilt_noise([]) == NOISE_SD_MM
    assert pooled_tilt_noise([np.zeros((0, 2)), np.zeros((1, 2))]) == NOISE_SD_MM
    # Forty differences of zero weigh as much as the default.
    assert pooled_tilt_noise([np.zeros((41, 2))]) == pytest.approx(NOISE_SD_MM / math.sqrt(2))


def test_no_jobs_give_an_empty_chart():
    chart = tilt_chart(np.zeros((0, 2)), limit=LIMIT)
    assert chart.statistic.shape == (0,)
    assert chart.estimate_cov_mm2.shape == (0, 2, 2)
    assert chart.current_change is None


@pytest.mark.parametrize(
    ("tilt", "settings", "error"),
    [
        ([[0.0, np.nan]], {}, NotFinite),
        ([[0.0, 0.0, 0.0]], {}, BadInput),
        ([0.0, 0.0], {}, BadInput),
        ([[0.0, 0.0]], {"noise_sd_mm": 0.0}, BadInput),
        ([[0.0, 0.0]], {"prior_sd_mm": -1.0}, BadInput),
        ([[0.0, 0.0]], {"weight": 0.0}, BadInput),
        ([[0.0, 0.0]], {"limit": 0.0}, BadInput),
        ([[0.0, 0.0]], {"stretch_start": [True, False]}, BadInput),
    ],
)
def test_what_cannot_be_charted_is_refused(tilt, settings, error):
    with pytest.raises(error):
        tilt_chart(tilt, **{"limit": LIMIT, **settings})
