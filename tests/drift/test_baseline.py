"""Information by hand on an untaught filter; the rest by laws on a shop of fixed seed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.drift import Budget, Event, Watch, jobs
from qc.numerics.drift.baseline import SETTLED, baseline, own_jobs, recording
from tests.drift.shop import season
from tests.drift.shops import watched

AS_READ, ENGINE = 0.0102**2, 0.015**2
FOUND = AS_READ + 0.008**2
# What is left of an achieved tilt's variance once the same engine's found tilt is known.
GIVEN_FOUND = ENGINE + AS_READ - ENGINE**2 / (ENGINE + FOUND)


@pytest.fixture(scope="module")
def shop():
    one = season(4_000_040, n=160)
    return watched(one, until=160), one.jobs


def of(shop, resource, *, kind="fixture", channel="tilt", **asked):
    watch, used = shop
    return baseline(
        watch.channels[channel],
        kind=kind,
        resource=resource,
        like=used,
        budget=Budget(),
        **asked,
    )


def test_a_serviced_fixture_is_thin_and_says_for_how_long(shop):
    watch, used = shop
    known = of(shop, 0)
    watch.take(jobs(0), events=[Event(0, "fixture", 0)])
    fresh = of(shop, 0)
    assert fresh.own_jobs == 0
    assert fresh.is_thin
    assert fresh.finds_in is None or fresh.finds_in > known.finds_in
    assert 1 <= fresh.more_jobs <= SETTLED
    # That many more in-control jobs of its own, and it is thin no longer.
    mine = own_jobs(used, channel=watch.channels["tilt"], kind="fixture", resource=0)
    rows = np.resize(np.arange(len(mine)), fresh.more_jobs + 4)
    watch.take(replace(mine, **{name: getattr(mine, name)[rows] for name in vars(mine)}))
    assert not of(shop, 0).is_thin


def test_a_bigger_knock_is_found_sooner(shop):
    found = [of(shop, 1, knock=knock).finds_in for knock in (0.015, 0.020, 0.040, 0.080)]
    assert found == sorted(found, reverse=True)
    assert found[-1] <= 2


def test_a_stricter_budget_finds_later(shop):
    watch, used = shop
    often, seldom = (
        baseline(
            watch.channels["tilt"],
            kind="fixture",
            resource=1,
            like=used,
            budget=Budget(false_flags=flags),
        ).finds_in
        for flags in (20, 0.05)
    )
    assert often < seldom


def test_what_is_not_recorded_is_not_found(shop):
    watch, used = shop
    blind = replace(used, clocking_deg=np.full(len(used), np.nan))
    got = baseline(watch.channels["tilt"], kind="fixture", resource=1, like=blind, budget=Budget())
    assert (got.finds_in, got.settled_finds_in, got.more_jobs) == (None, None, None)
    assert not got.is_thin


def test_gauges_and_hands_have_baselines_too(shop):
    gauge = of(shop, 0, kind="gauge", channel="height")
    hands = of(shop, 0, kind="operator", channel="spread", knock=2 * np.log(1.6))
    assert 5 < gauge.settled_finds_in < 40
    assert 3 < hands.settled_finds_in < 15


def test_asking_changes_nothing(shop):
    watch, _ = shop
    before = [array.copy() for array in watch.channels["tilt"].state]
    of(shop, 1)
    recording(watch.channels["tilt"], like=shop[1])
    after = watch.channels["tilt"].state
    assert all(np.array_equal(a, b) for a, b in zip(before, after, strict=True))


def plain(n, **columns):
    zero = np.zeros((n, 2))
    return jobs(n, **{"fixture": np.arange(n) % 3, "tilt_achieved_mm": zero, **columns})


def bought(used):
    tilt = Watch(budget=Budget()).channels["tilt"]
    return {one.what: one for one in recording(tilt, like=used)}


def test_what_as_found_readings_buy_by_hand():
    got = bought(plain(8, clocking_deg=np.full(8, 30.0)))["as_found"]
    assert got.recorded == 0
    # knock^2 / 4 x two axes / variance.
    assert got.nats_now == pytest.approx(0.020**2 / 2 / (ENGINE + AS_READ))
    assert got.nats_with == pytest.approx(0.020**2 / 2 / GIVEN_FOUND)
    assert got.jobs_saved == pytest.approx(1 - GIVEN_FOUND / (ENGINE + AS_READ))


def test_what_clocking_buys_is_the_share_that_lacks_it():
    some = np.where(np.arange(10) < 7, 90.0, np.nan)
    got = bought(plain(10, clocking_deg=some))["clocking"]
    assert got.recorded == pytest.approx(0.7)
    assert got.nats_now == pytest.approx(0.7 * got.nats_with)
    assert got.jobs_saved == pytest.approx(0.3)


def test_four_positions_tell_twice_what_two_do():
    pair = np.column_stack([np.zeros(6), np.full(6, np.nan)])
    got = bought(plain(6, clocking_deg=np.zeros(6), tilt_achieved_mm=pair))["four_positions"]
    assert got.recorded == 0
    assert got.nats_with == pytest.approx(2 * got.nats_now)


def test_what_is_always_recorded_buys_nothing_more():
    zero = np.zeros((6, 2))
    for one in bought(plain(6, clocking_deg=np.zeros(6), tilt_found_mm=zero)).values():
        assert one.recorded == 1
        assert one.jobs_saved == pytest.approx(0)


def test_what_the_shop_has_learned_of_its_noise_counts(shop):
    watch, used = shop
    calm = recording(watch.channels["tilt"], like=used)[0].nats_now
    rough = Watch(budget=Budget())
    rough.take(
        replace(
            used,
            tilt_achieved_mm=2 * used.tilt_achieved_mm,
            tilt_found_mm=2 * used.tilt_found_mm,
        )
    )
    assert recording(rough.channels["tilt"], like=used)[0].nats_now < 0.6 * calm


def test_bad_input_is_refused(shop):
    watch, used = shop
    tilt = watch.channels["tilt"]
    with pytest.raises(BadInput, match="no job of fixture 44"):
        of(shop, 44)
    others = replace(used, fixture=np.where(used.fixture == 1, 2, used.fixture))
    with pytest.raises(BadInput, match="None of the jobs given"):
        baseline(tilt, kind="fixture", resource=1, like=others, budget=Budget())
    for wrong in ({"knock": 0.0}, {"knock": np.nan}, {"within": 0}):
        with pytest.raises(BadInput):
            of(shop, 1, **wrong)
    with pytest.raises(BadInput):
        recording(tilt, like=jobs(3, fixture=[0, 1, 2]))
    with pytest.raises(BadInput):
        recording(tilt, like=used, knock_mm=0.0)
