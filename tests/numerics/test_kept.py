"""A chart kept from its first job on: thin, estimated, held; frozen from the start; its sums."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.charts import RunningSettings, cusum_chart, individuals_limits, rebuild
from qc.numerics.charts.first_jobs import (
    BASELINE_JOBS,
    FEWEST_JOBS,
    first_limits,
    held_limits,
    limits_from_jobs,
)
from qc.numerics.charts.kept import Judging, KeptState, Sums, frozen_chart, next_kept
from qc.numerics.patterns import (
    EIGHT_SAME_SIDE,
    FOUR_OF_FIVE,
    NELSON,
    SIX_RISING_OR_FALLING,
    TWO_OF_THREE,
    made_by,
)

JUDGING = Judging(weight=0.2, width=2.9, rules=NELSON, sums=Sums(k=0.5, h=5.0, head_start=2.5))


def run(x, *, state=None, begins=()):
    state, points = state or KeptState(), []
    for job, reading in enumerate(x):
        state, point = next_kept(state, reading, begins=job in begins, judging=JUDGING)
        points.append(point)
    return state, points


def jobs(n, seed=3):
    return np.round(0.01 * np.random.default_rng(seed).standard_normal(n), 4).tolist()


def test_nothing_is_judged_while_thin_then_by_the_jobs_so_far():
    x = jobs(FEWEST_JOBS + 5)
    state, points = run(x)
    assert points[: FEWEST_JOBS - 1] == [None] * (FEWEST_JOBS - 1)
    for job in range(FEWEST_JOBS - 1, len(x)):
        limits = individuals_limits(x[: job + 1], spread="median")
        assert (points[job].centre, points[job].sigma) == (limits.centre, limits.sigma)
    assert not state.is_held
    assert len(state.readings) == len(x)


def test_after_the_baseline_limits_are_held_whatever_comes():
    x = jobs(BASELINE_JOBS)
    state, points = run([*x, *(0.05 + one for one in jobs(30, seed=4))])
    limits = individuals_limits(x, spread="median")
    assert state.is_held
    assert state.readings == ()
    assert {(p.centre, p.sigma) for p in points[BASELINE_JOBS - 1 :]} == {
        (limits.centre, limits.sigma)
    }
    assert points[-1].judged.ewma_signal


@pytest.mark.parametrize("n", [FEWEST_JOBS, 30, BASELINE_JOBS + 25])
def test_what_is_drawn_is_as_wide_as_what_judges(n):
    x, known = jobs(n), JUDGING.widths
    _, points = run(x)
    drawn = first_limits(tuple(x), (True, *[False] * (n - 1)), known=known, weight=0.2)
    judged = points[-1].judged
    assert drawn.single.sigmas == points[-1].width > known.single
    reach = drawn.average_width * drawn.single.sigma * np.sqrt(0.2 / 1.8)
    assert judged.half_width == pytest.approx(reach, rel=3e-3 if n < 15 else 1e-4)
    assert (drawn.average_width > known.average) is (n > BASELINE_JOBS)


def test_a_rule_keeps_its_name_where_its_limits_are_widened():
    state, _ = run(jobs(BASELINE_JOBS))
    _, point = next_kept(state, 1.0, begins=False, judging=JUDGING)
    assert NELSON[0] in point.judged.fired
    assert set(point.judged.fired) <= set(NELSON)
    far = state.centre + (NELSON[0].low + point.width) / 2 * state.sigma
    _, point = next_kept(state, far, begins=False, judging=JUDGING)
    assert NELSON[0] not in point.judged.fired


def test_frozen_limits_judge_from_the_first_job_as_the_whole_chart_does():
    x, starts = jobs(200), {60, 130}
    held = held_limits(0.001, 0.009, jobs=15, pairs=14, known=JUDGING.widths, weight=JUDGING.weight)
    assert held.single.sigmas > JUDGING.widths.single
    _, points = run(x, state=frozen_chart(0.001, 0.009, jobs=15, pairs=14), begins=starts)
    marks = np.isin(np.arange(200), [0, *starts])
    rules = (replace(NELSON[0], low=held.single.sigmas), *NELSON[1:])
    settings = RunningSettings(0.001, 0.009, JUDGING.weight, held.average_width, rules)
    whole = rebuild(x, settings=settings, stretch_start=marks)
    assert [p.judged.ewma for p in points] == whole.ewma.z.tolist()
    fired = [[rule in p.judged.fired for rule in NELSON] for p in points]
    assert fired == whole.patterns.fired.tolist()


def test_the_sums_are_those_of_the_tabular_chart():
    x = jobs(120)
    _, points = run(x, state=frozen_chart(0.0, 0.01, jobs=40, pairs=39), begins={50})
    whole = cusum_chart(
        x,
        target=0.0,
        sigma=0.01,
        k=0.5,
        h=5.0,
        head_start=2.5,
        stretch_start=np.isin(np.arange(120), [50]),
    )
    np.testing.assert_allclose([p.sums.high * 0.01 for p in points], whole.high, atol=1e-12)
    np.testing.assert_allclose([p.sums.low * 0.01 for p in points], whole.low, atol=1e-12)
    assert [p.sums.high_run for p in points] == whole.high_run.tolist()


def test_a_coarse_gauge_never_holds_limits_of_no_width():
    state, points = run([0.01] * (BASELINE_JOBS + 20))
    assert points == [None] * len(points)
    assert state.sigma == 0.0
    assert not state.is_held
    assert len(state.readings) == BASELINE_JOBS
    state, points = run([0.01, 0.02, 0.00, 0.01, 0.03] * BASELINE_JOBS, state=state)
    assert state.is_held
    assert state.sigma > 0


def test_what_cannot_be_kept_is_refused():
    with pytest.raises(NotFinite):
        next_kept(KeptState(), float("nan"), begins=True, judging=JUDGING)
    with pytest.raises(BadInput):
        frozen_chart(0.0, 0.0, jobs=40, pairs=39)
    with pytest.raises(BadInput):
        frozen_chart(0.0, 0.01, jobs=40, pairs=0)
    with pytest.raises(TooFewReadings):
        limits_from_jobs((0.0,) * 5, (True, False, False, False, False))
    with pytest.raises(BadInput, match="too coarse"):
        limits_from_jobs((0.0,) * 15, (True, *[False] * 14))


@pytest.mark.parametrize(
    ("rule", "z", "made"),
    [
        (TWO_OF_THREE, [0.1, 2.4, -2.9, 2.2], (1, 3)),
        (TWO_OF_THREE, [0.0, -2.1, -2.4], (1, 2)),
        (FOUR_OF_FIVE, [1.2, 1.3, 0.5, 1.1, 1.6], (0, 1, 3, 4)),
        (EIGHT_SAME_SIDE, [-0.2, *[0.3] * 8], tuple(range(1, 9))),
        (SIX_RISING_OR_FALLING, [0.5, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6], tuple(range(1, 7))),
    ],
)
def test_the_points_that_made_a_pattern(rule, z, made):
    assert made_by(z, rule) == made
