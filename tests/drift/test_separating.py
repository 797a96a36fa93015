"""Against sums over hypotheses written out, against drawing, and against the known traps."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.drift import Budget, Suspect, Watch, jobs
from qc.numerics.drift.forecast import copy_of, place_of
from qc.numerics.drift.miss import QUARTERS
from qc.numerics.drift.separating import (
    FULLY_READ,
    best_trial,
    both_gauges,
    every_job,
    job_trials,
    settles,
)
from tests.drift.shop import Change, season, without_found
from tests.drift.shops import watched

GAUGE, HANDS = Suspect("gauge", 0, 0.5), Suspect("operator", 0, 0.3)


@pytest.fixture(scope="module")
def height():
    """A shop in which a gauge began to read 0.030 mm off some 20 of its jobs ago."""
    one = season(4_000_021, n=160, change=Change("gauge", 0.030, earliest=125, latest=126))
    assert one.changed == ("gauge", 0)
    return watched(one, until=160).channels["height"]


def expected(channel, suspect, terms):
    """What a suspect's move adds to one reading with these terms: mean and variance."""
    state, d = channel.state, channel.settings.deltas
    place, n, h = place_of(channel, suspect.kind, suspect.resource), *state.counts[[0, 2]]
    weights, means, variances = [], [], []
    for at in range(h):
        if state.who[at] != place:
            continue
        direct = terms[channel.settings.fixed_blocks * d + place] * state.since[at]
        effect = direct - sum(terms[row] * state.response[0, row, at] for row in range(n))
        weights.append(np.exp(state.evidence[at] + state.weight[at]))
        means.append(effect * state.mean[0, at])
        variances.append(effect**2 * state.cov[0, at])
    share = np.array(weights) / sum(weights)
    mean = share @ means
    return mean, share @ (np.array(variances) + (np.array(means) - mean) ** 2)


def test_a_jobs_nats_are_the_sum_written_out(height):
    possible = every_job("height", lathe=[0], edge=[0], operator=[1], gauge_achieved=[0])
    got = job_trials(height, GAUGE, HANDS, possible=possible)[0]
    state = height.state
    terms = np.zeros(state.counts[0])
    terms[0] = 1.0
    for kind, resource in (("lathe", 0), ("edge", 0), ("operator", 1), ("gauge", 0)):
        terms[1 + place_of(height, kind, resource)] = 1.0
    noise = 0.020**2 * (40 + state.scale_sum[1]) / (40 + state.scale_weight[1])
    n = state.counts[0]
    (first, first_var), (second, second_var) = (
        expected(height, one, terms) for one in (GAUGE, HANDS)
    )
    var = terms @ state.p[:n, :n] @ terms + noise + (first_var + second_var) / 2
    assert got.nats == pytest.approx((first - second) ** 2 / 2 / var, rel=1e-9)


@pytest.mark.parametrize(("nats", "odds"), [(0.5, 0.3), (2.0, -0.8), (8.0, 0.0)])
def test_the_chance_to_settle_agrees_with_drawing(nats, odds):
    rng = np.random.default_rng(5)
    is_first = rng.random(400_000) < 1 / (1 + np.exp(-odds))
    ratio = rng.normal(np.where(is_first, nats, -nats), np.sqrt(2 * nats))
    posterior = 1 / (1 + np.exp(-(odds + ratio)))
    want = (np.maximum(posterior, 1 - posterior) >= 0.8).mean()
    assert settles(nats, odds) == pytest.approx(want, abs=0.003)


def test_nothing_to_tell_settles_only_what_was_settled():
    assert settles(0.0, 1.0) == 0.0
    assert settles(0.0, 2.0) == 1.0


def test_both_gauges_are_worth_many_jobs(height):
    possible = every_job("height", lathe=[0], edge=[0, 1], operator=[0, 1], gauge_achieved=[0, 1])
    alone = job_trials(height, GAUGE, HANDS, possible=possible)
    check = both_gauges(height, GAUGE, HANDS, gauges=(0, 1))
    assert check.nats > 5 * max(trial.nats for trial in alone)
    best = best_trial(height, [GAUGE, HANDS], possible=possible, gauges=[0, 1])
    assert best == check
    without = best_trial(height, [GAUGE, HANDS], possible=possible)
    assert without == max(alone, key=lambda trial: trial.nats)


def test_a_gauge_known_to_differ_by_its_error_alone_gives_eight_nats(height):
    """0.020 mm against a standard deviation of 0.005: 16 / 2, both sizes being sure."""
    sure = copy_of(height)
    h, n = sure.state.counts[2], sure.state.counts[0]
    held = sure.state.who[:h] == place_of(sure, "gauge", 0)
    sure.state.mean[0, :h] = np.where(held, 0.020, 0.0)
    sure.state.cov[:, :h] = 0.0
    sure.state.response[:, :, :h] = 0.0
    sure.state.p[:n, :n] = 0.0
    sure.state.since[:h] = 1
    assert both_gauges(sure, GAUGE, HANDS, gauges=(0, 1)).nats == pytest.approx(8.0)
    job = every_job("height", lathe=[0], edge=[0], operator=[1], gauge_achieved=[0])
    noise = (40 + sure.state.scale_sum[1]) / (40 + sure.state.scale_weight[1])
    assert job_trials(sure, GAUGE, HANDS, possible=job)[0].nats == pytest.approx(0.5 / noise)


@pytest.fixture(scope="module")
def tied():
    """One pair of hands to a fixture, never clocked but one way, no as-found tilt: a known tie."""
    one = season(4_000_031, n=150, change=Change("fixture", 0.040, earliest=110, latest=111))
    used = one.jobs
    turn = np.deg2rad(used.clocking_deg)
    # Every tilt as though it had been clocked at 0.
    x, y = used.tilt_achieved_mm.T
    back = np.stack([np.cos(turn) * x + np.sin(turn) * y, np.cos(turn) * y - np.sin(turn) * x], 1)
    turned = replace(
        used, operator=used.fixture, clocking_deg=np.zeros(len(used)), tilt_achieved_mm=back
    )
    return watched(without_found(replace(one, jobs=turned)), until=150), one.changed[1]


@pytest.mark.parametrize("as_found", [False, True])
def test_a_tie_is_broken_by_turning_changing_hands_or_reading_as_found(tied, as_found):
    watch, who = tied
    tilt = watch.channels["tilt"]
    suspects = [Suspect("fixture", who, 0.6), Suspect("operator", who, 0.3)]
    other = next(key[1] for key in tilt.keys if key[0] == "operator" and key[1] != who)
    possible = every_job(
        "tilt",
        read_as=FULLY_READ if as_found else jobs(1, tilt_achieved_mm=[(0.0, 0.0)]),
        fixture=[who],
        operator=[who, other],
        clocking_deg=QUARTERS,
    )
    trials = job_trials(tilt, *suspects, possible=possible)
    best = best_trial(tilt, suspects, possible=possible)
    assert best == max(trials, key=lambda trial: trial.nats)
    # Half a turn parts the two the furthest.
    assert (possible.operator[best.row], possible.clocking_deg[best.row]) == (who, 180)
    as_usual = trials[0].nats
    assert as_usual == pytest.approx(0, abs=1e-9) if not as_found else as_usual > 1
    assert min(trial.nats for trial in trials[1:]) > 1


def test_many_possible_jobs_are_worth_the_same_and_take_no_more_room(height):
    """All readings' covariance at once would be 8 MB for 1000 jobs, and 800 MB for 10 000."""
    possible = every_job("height", lathe=[0], edge=[0, 1] * 250, operator=[0, 1])
    assert len(possible) == 1000
    tracemalloc.start()
    got = job_trials(height, GAUGE, HANDS, possible=possible)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 4e6
    assert [one.row for one in got] == list(range(len(possible)))
    for row in (0, 63, 64, len(possible) - 1):
        [alone] = job_trials(height, GAUGE, HANDS, possible=possible.of(slice(row, row + 1)))
        assert got[row].nats == pytest.approx(alone.nats, rel=1e-9)


def test_every_job_is_every_choice_of_what_is_free():
    got = every_job("height", edge=[0, 1, 2], operator=[4, 5], lathe_of={0: 0, 1: 0, 2: 1})
    assert len(got) == 6
    assert set(zip(got.edge, got.lathe, got.operator, strict=True)) == {
        (edge, lathe, hands) for edge, lathe in ((0, 0), (1, 0), (2, 1)) for hands in (4, 5)
    }
    assert (got.gauge_achieved == -1).all()


def test_one_suspect_or_no_way_gives_no_trial(height):
    possible = every_job("height", lathe=[0], edge=[0], operator=[1], gauge_achieved=[0])
    assert best_trial(height, [GAUGE], possible=possible) is None
    tilt = Watch(budget=Budget()).channels["tilt"]
    assert best_trial(tilt, [], possible=every_job("tilt", fixture=[0])) is None


def test_bad_input_is_refused(height):
    possible = every_job("height", lathe=[0], gauge_achieved=[0])
    with pytest.raises(BadInput, match="two different suspects"):
        job_trials(height, GAUGE, GAUGE, possible=possible)
    with pytest.raises(BadInput, match="no job of gauge 55"):
        job_trials(height, GAUGE, Suspect("gauge", 55, 0.1), possible=possible)
    with pytest.raises(BadInput, match="two different gauges"):
        both_gauges(height, GAUGE, HANDS, gauges=(1, 1))
    with pytest.raises(BadInput):
        both_gauges(height, GAUGE, HANDS, gauges=(0, 1), sd_mm=0.0)
    with pytest.raises(BadInput, match="no choice"):
        every_job("height", edge=[])
    with pytest.raises(BadInput, match="No smell channel"):
        every_job("smell", edge=[1])
    with pytest.raises(BadInput, match="has no colour"):
        every_job("height", colour=[1])
    with pytest.raises(BadInput):
        every_job("height", operator=[0], lathe_of={0: 0})
