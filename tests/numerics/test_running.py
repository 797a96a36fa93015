"""A chart kept up job by job is, to the bit, the chart rebuilt."""

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite
from qc.numerics.charts import RunningSettings, fresh_state, next_job, rebuild
from qc.numerics.patterns import NELSON
from qc.numerics.tilt_chart import tilt_chart
from qc.numerics.tilt_running import TiltState, next_tilt

SETTINGS = RunningSettings(centre=0.013, sigma=0.0217, weight=0.2, width=2.962, rules=NELSON)


def kept_up(x, start):
    state, points = fresh_state(SETTINGS), []
    for reading, begins in zip(x.tolist(), start.tolist(), strict=True):
        state = fresh_state(SETTINGS) if begins else state
        state, point = next_job(state, reading, settings=SETTINGS)
        points.append(point)
    return state, points


@pytest.mark.parametrize("seed", range(5))
def test_job_by_job_is_the_rebuild_to_the_bit(seed):
    rng = np.random.default_rng(seed)
    # Tenths of a hundredth, so that ties occur, and a slow drift, so that rules fire.
    x = np.round(0.013 + 0.02 * rng.standard_normal(700) + 0.02 * np.sin(np.arange(700) / 40), 3)
    start = rng.random(700) < 0.01
    state, points = kept_up(x, start)
    whole = rebuild(x, settings=SETTINGS, stretch_start=start)
    assert [p.z for p in points] == whole.z.tolist()
    assert [p.ewma for p in points] == whole.ewma.z.tolist()
    assert [p.half_width for p in points] == whole.ewma.half_width.tolist()
    assert [p.ewma_signal for p in points] == whole.ewma.signal.tolist()
    fired = [[rule in p.fired for rule in NELSON] for p in points]
    assert fired == whole.patterns.fired.tolist()
    assert any(p.fired for p in points)
    assert state == whole.state


def test_the_state_does_not_grow():
    x = np.random.default_rng(7).standard_normal(500)
    state, _ = kept_up(x, np.zeros(500, dtype=bool))
    assert len(state.tail) == 15
    assert state.jobs == 500


@pytest.mark.parametrize("seed", range(5))
def test_a_tilt_kept_up_is_the_rebuild_to_the_bit(seed):
    rng = np.random.default_rng(seed)
    tilt = rng.normal(0, 0.02, (200, 2))
    tilt[150:] += 0.03
    start = rng.random(200) < 0.02
    whole = tilt_chart(tilt, limit=9.0, stretch_start=start)
    state, signalled = TiltState(), False
    for job in range(200):
        state, signalled = (TiltState(), False) if start[job] else (state, signalled)
        state, point = next_tilt(state, tilt[job], limit=9.0)
        signalled |= point.signal
        assert point.statistic == whole.statistic[job]
        assert point.signal == whole.signal[job]
        if not signalled:
            assert point.estimate_mm.tolist() == whole.estimate_mm[job].tolist()
            assert point.estimate_var_mm2 == whole.estimate_cov_mm2[job, 0, 0]
    assert whole.signal.any()


def test_what_cannot_be_kept_up_is_refused():
    with pytest.raises(NotFinite):
        next_job(fresh_state(SETTINGS), float("nan"), settings=SETTINGS)
    with pytest.raises(NotFinite):
        next_tilt(TiltState(), [0.0, float("inf")], limit=9.0)
    with pytest.raises(BadInput):
        next_tilt(TiltState(), [0.0, 0.0, 0.0], limit=9.0)
    with pytest.raises(BadInput):
        RunningSettings(centre=0.0, sigma=0.0, weight=0.2, width=3.0, rules=NELSON)
    with pytest.raises(BadInput):
        RunningSettings(centre=0.0, sigma=1.0, weight=0.2, width=3.0, rules=())
