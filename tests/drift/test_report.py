"""What the report's figures are made of, on few shops of fixed seeds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.drift.beside import left_alone, second_knock
from tests.drift.calibrating import Asked, ask, calibration
from tests.drift.closed_loop import JOBS, Shop, Spent, at_once, never, on_flag, on_flag_or_excess
from tests.drift.conditions import CONDITIONS, ELSEWHERE, MOVES, PLAIN, early
from tests.drift.finding import LOOKED_FOR, SEASON, Found, false_flags, find, finding
from tests.drift.oracle import LONGEST, delays, information
from tests.drift.report import jobs_of
from tests.drift.shop import Change, season

FIRST = 4_100_000


def rng():
    return np.random.default_rng(7)


def test_the_oracles_information_by_hand():
    found, engine, read = 0.0102**2 + 0.008**2, 0.015**2, 0.0102**2
    knock = 1 / (engine + read - engine**2 / (engine + found))
    assert information(Change("fixture", 0.02)) == pytest.approx(knock)
    # Hands stand in both readings: their mean, weighed by noise, with the engine still in it.
    hands = 1 / (engine + 1 / (1 / found + 1 / read))
    assert information(Change("operator_tilt", 0.02)) == pytest.approx(hands)
    assert information(Change("gauge", 0.02)) == pytest.approx(1 / 0.020**2)


@pytest.mark.parametrize("to_a_false_flag", [300.0, 3000.0])
def test_the_oracle_waits_as_siegmund_says(to_a_false_flag):
    """Run lengths of Page's CUSUM for a move of one standard deviation, Siegmund 1985 (memory)."""
    got = delays(Change("gauge", 0.020), np.array([to_a_false_flag]), rng=rng())
    a = brentq(lambda a: 2 * (np.exp(a) - a - 1) - to_a_false_flag, 0.1, 20)
    # A chart that has run for a while stands a little above 0 when the move comes.
    from_zero = 2 * (np.exp(-a) + a - 1)
    assert 0.75 * from_zero < got.mean() < 1.02 * from_zero


def test_the_oracle_finds_bigger_moves_sooner_and_ramps_and_spreads_too():
    share = np.array([800.0])
    means = [
        delays(Change("fixture", size), share, rng=rng()).mean() for size in (0.01, 0.02, 0.04)
    ]
    assert means == sorted(means, reverse=True)
    ramp = delays(Change("fixture", 0.001, is_ramp=True), share, rng=rng())
    assert 10 < np.median(ramp) < 25
    assert ramp.max() <= LONGEST
    repeats = delays(Change("repeats", 2 * np.log(1.6)), share, rng=rng())
    assert 2 < np.median(repeats) < 8


def test_a_big_knock_is_found_and_named():
    got = find("fixture knock 0.040", FIRST)
    assert got.own <= 6
    assert got.is_first_right
    assert got.is_in_set
    assert 1 <= got.set_size <= 3


def test_a_row_sums_up_its_shops():
    shops = [
        Found(3, 3, 800.0, True, True, False, True, 1),
        Found(5, 7, 800.0, True, False, False, True, 2),
        Found(12, np.inf, 800.0, False, False, True, False, 3),
        Found(np.inf, np.inf, 800.0, False, False, False, None, None),
    ]
    got = finding("fixture knock 0.040", shops, rng=rng())
    assert (got.median, got.p90) == (12, np.inf)
    assert (got.named_median, got.named_p90) == (np.inf, np.inf)
    assert (got.within_10, got.within_20) == (0.5, 0.75)
    assert got.flagged == 0.75
    assert got.first_right == pytest.approx(2 / 3)
    assert got.first_of_all_right == pytest.approx(1 / 3)
    assert got.wrong == 0.25
    assert (got.covered, got.set_size) == (pytest.approx(2 / 3), 2.0)
    assert got.covered_se == pytest.approx(np.sqrt(2 / 27))
    assert jobs_of(got.p90) == "-"
    assert got.oracle_median <= 3


@pytest.mark.parametrize("sooner", [False, True])
def test_every_move_happens_on_its_channel_in_time(sooner):
    for _, change in MOVES.values():
        one = season(FIRST, n=SEASON, change=early(change) if sooner else change)
        assert one.changed is not None
        assert (one.onset < 40) == sooner
        assert one.onset + LOOKED_FOR <= len(one.jobs)


def test_moves_are_looked_for_in_every_kind_of_shop():
    assert {condition for _, condition in ELSEWHERE} == set(CONDITIONS) - {PLAIN}
    got = find("fixture knock 0.040", FIRST, condition="two positions", is_early=True)
    assert got.own <= got.own_named
    assert got.own < np.inf


def test_a_second_knock_is_looked_for_while_the_first_stands_open():
    got = second_knock(0.080, 0.080, FIRST)
    assert got.is_first_right
    assert 1 <= got.own <= 6
    extra, years = left_alone(0.080, FIRST)
    assert extra <= 3
    assert 1 < years < 2


def test_conditions_differ_in_what_they_say():
    drawn = {name: draw(FIRST, 200, None).jobs for name, draw in CONDITIONS.items()}
    plain = drawn.pop("plain")
    lost = drawn.pop("clocking missing in 20 %").clocking_deg
    assert 0.1 < np.isnan(lost).mean() < 0.3
    halves = drawn.pop("two positions")
    for tilt in (halves.tilt_found_mm, halves.tilt_achieved_mm):
        assert (np.isnan(tilt).sum(axis=1) == 1).all()
    assert np.isnan(drawn.pop("no as-found tilt").tilt_found_mm).all()
    for jobs in drawn.values():
        assert not np.array_equal(jobs.height_error_mm, plain.height_error_mm) or not (
            np.array_equal(jobs.tilt_achieved_mm, plain.tilt_achieved_mm)
        )


def test_a_quiet_year_counts_flags_by_channel():
    got = false_flags("plain", FIRST, jobs_a_year=60)
    assert min(got.tilt, got.height, got.spread) >= 0
    assert got.tilt + got.height + got.spread <= 5


def test_calibration_knows_the_truth_from_the_shops_rate():
    draw = rng()
    chance = draw.uniform(0, 0.4, (60, 500))
    missed = (draw.random(chance.shape) < chance).astype(float)
    known = [Asked(c, c, m) for c, m in zip(chance, missed, strict=True)]
    got = calibration(known, rng=draw)
    assert got.error == pytest.approx(0)
    assert got.attained == pytest.approx(1)
    assert sum(one.jobs for one in got.bins) == got.jobs == 30_000
    for one in got.bins:
        assert one.missed == pytest.approx(one.known, abs=0.03)
    # The Brier score said to be expected is that of the outcomes.
    assert got.brier == pytest.approx(((chance - missed) ** 2).mean(), abs=0.005)
    rate = [Asked(np.full(500, c.mean()), c, m) for c, m in zip(chance, missed, strict=True)]
    assert calibration(rate, rng=draw).attained == pytest.approx(0)
    eager = [Asked(np.minimum(1, 2 * c), c, m) for c, m in zip(chance, missed, strict=True)]
    assert calibration(eager, rng=draw).error > 0.1


def test_what_is_asked_comes_before_the_answer():
    got = ask(FIRST)
    assert got.stated.shape == got.known.shape == got.missed.shape
    assert ((got.stated > 0) & (got.stated < 1)).all()
    assert set(np.unique(got.missed)) <= {0.0, 1.0}
    assert abs(got.stated.mean() - got.known.mean()) < 0.03


def test_a_reindicated_fixture_is_new_from_the_next_job_to_its_next_service():
    here = Shop(FIRST + 2)
    fixture = here.season.changed[1]
    before = here.achieved.copy()
    here.reindicate(fixture, after=here.season.onset)
    changed = (here.achieved != before).any(axis=1)
    mine = (here.jobs.fixture == fixture) & (np.arange(JOBS) > here.season.onset)
    assert np.array_equal(changed, mine)
    off = here.achieved - here.without_fixture
    assert np.hypot(*off[mine].T).max() < 0.006 * 5
    assert np.hypot(*(before - here.without_fixture)[mine].T).min() > 0.02


def test_rules_cost_what_they_do():
    assert Spent(misses=8, reindications=2).cost(miss=3) == pytest.approx(26 / 4)
    # A fixture knocked 0.060: whoever acts misses less than who never does.
    bound, flag, both, without = (
        rule(FIRST + 2) for rule in (at_once, on_flag, on_flag_or_excess, never)
    )
    assert (bound.reindications, without.reindications) == (1, 0)
    assert min(flag.reindications, both.reindications) >= 1
    assert max(one.misses for one in (bound, flag, both)) < without.misses
