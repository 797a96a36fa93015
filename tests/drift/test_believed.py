"""One reading by hand, by the textbook formula for a normal mean; a knock as it was put in."""

from __future__ import annotations

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.drift import Budget, Event, Watch, jobs
from qc.numerics.drift.believed import Belief, believed
from tests.drift.shop import Change, season
from tests.drift.shops import watched

LATHE, COMMON, NOISE = 0.010**2, 0.030**2, 0.020**2


def test_one_reading_by_hand():
    """A normal mean's posterior: prior variance over total variance of the reading, times it; what
    might have moved adds a little to what is unsure."""
    watch = Watch(budget=Budget())
    watch.take(jobs(1, lathe=[4], height_error_mm=[0.02]))
    got = believed(watch.channels["height"], kind="lathe", resource=4)
    share = LATHE / (LATHE + COMMON + NOISE)
    assert got.size == pytest.approx(0.02 * share, rel=0.1)
    assert LATHE * (1 - share) < got.u**2 < LATHE * (1 - share) * 1.2
    assert got.direction_deg is None
    assert not got.is_told


@pytest.fixture(scope="module")
def knocked():
    one = season(4_000_050, n=190, change=Change("fixture", 0.050, earliest=120, latest=121))
    return watched(one, until=190), one


def test_a_knock_is_believed_as_large_as_it_was_put_in(knocked):
    watch, one = knocked
    tilt = watch.channels["tilt"]
    got = believed(tilt, kind="fixture", resource=one.changed[1])
    assert got.size == pytest.approx(0.050, abs=3 * got.u + 0.012)
    assert got.is_told
    assert 0 <= got.direction_deg < 360
    others = [key for kind, key in tilt.keys if kind == "fixture" and key != one.changed[1]]
    assert others
    for key in others:
        assert believed(tilt, kind="fixture", resource=key).size < got.size / 2


def test_a_service_takes_the_belief_back_to_what_services_leave(knocked):
    watch, one = knocked
    key = one.changed[1]
    watch.take(jobs(0), events=[Event(0, "fixture", key)])
    got = believed(watch.channels["tilt"], kind="fixture", resource=key)
    assert got.size == pytest.approx(0, abs=1e-9)
    assert got.u == pytest.approx(0.006, rel=0.05)


def test_what_has_no_job_yet_is_refused():
    watch = Watch(budget=Budget())
    watch.take(jobs(1, lathe=[4], height_error_mm=[0.02]))
    with pytest.raises(BadInput, match="no job of lathe 5"):
        believed(watch.channels["height"], kind="lathe", resource=5)
    assert np.isfinite(believed(watch.channels["height"], kind="lathe", resource=4).size)


def drawn_heights(rng, *, n=120):
    """A shop whose lathes, hands and gauges have biases drawn as the channel takes them to be; the
    truth is of each against nothing, as is what is believed."""
    sd = {"lathe": 0.010, "operator": 0.007, "gauge": 0.006}
    truth = {kind: rng.normal(0, one, 3) for kind, one in sd.items()}
    used = {kind: rng.integers(0, 3, n) for kind in sd}
    error = rng.normal(0, 0.030) + rng.normal(0, 0.020, n)
    for kind, of in truth.items():
        error = error + of[used[kind]]
    watch = Watch(budget=Budget())
    watch.take(
        jobs(
            n,
            lathe=used["lathe"],
            operator=used["operator"],
            gauge_achieved=used["gauge"],
            height_error_mm=error,
        )
    )
    return watch, truth


def test_what_is_believed_is_as_far_off_as_it_says():
    """Over drawn shops the errors, in standard uncertainties, scatter by about 1; rms of 180 such
    numbers, which are not all independent, is within a fifth of it."""
    rng = np.random.default_rng(71)
    off = []
    for _ in range(20):
        watch, truth = drawn_heights(rng)
        for kind, biases in truth.items():
            for key, bias in enumerate(biases):
                got = believed(watch.channels["height"], kind=kind, resource=key)
                off.append((got.size - bias) / got.u)
    assert 0.8 < np.sqrt(np.mean(np.square(off))) < 1.2
    assert abs(np.mean(off)) < 0.25


def test_no_bias_is_told_from_none_as_rarely_on_two_axes_as_on_one():
    """P(|z| > 2) = 0.0455 of a standard normal, from the tables."""
    z = np.random.default_rng(72).standard_normal((20_000, 2))
    one = [Belief(float(a), 1.0, None, (0.0,)).is_told for a, _ in z]
    both = [Belief(float(np.hypot(*row)), 1.0, 0.0, (0.0, 0.0)).is_told for row in z]
    error = np.sqrt(0.0455 * 0.9545 / len(z))
    assert abs(np.mean(one) - 0.0455) < 4 * error
    assert abs(np.mean(both) - 0.0455) < 4 * error
