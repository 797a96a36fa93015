"""The watch as a whole: portions, replays, unknowns, and what no reading may do."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite
from qc.numerics.drift import Budget, Event, Jobs, Watch, jobs, watch_jobs
from qc.numerics.drift.bank import walk_scale
from qc.numerics.drift.defaults import CHANNELS, TILT
from qc.numerics.drift.hypotheses import evidence_of_each, may_reach
from qc.numerics.drift.onsets import stand_for
from qc.numerics.drift.state import MOST_HYPOTHESES, trimmed
from qc.numerics.drift.suspects import move_of
from qc.numerics.drift.thresholds import SHARES
from tests.drift.shop import Change, season
from tests.drift.shops import watched

KNOCK = season(4, n=200, change=Change("fixture", 0.040, earliest=60, latest=90))


def part(told: Jobs, start: int, stop: int) -> Jobs:
    return Jobs(**{one.name: getattr(told, one.name)[start:stop] for one in fields(Jobs)})


def fed(told: Jobs, events: list[Event], ends: list[int]) -> tuple[list[tuple], Watch]:
    """The flags and the watch after feeding portions that end where told."""
    watch = Watch(budget=Budget(), on_flag="check")
    flags, start = [], 0
    for end in ends:
        mine = [
            replace(one, before_job=one.before_job - start)
            for one in events
            if start <= one.before_job < end
        ]
        for flag in watch.take(part(told, start, end), events=mine):
            flags.append((flag.job + start, flag.channel, flag.suspects, flag.move))
        start = end
    return flags, watch


def assert_same_state(one: Watch, other: Watch) -> None:
    for name, channel in one.channels.items():
        assert channel.keys == other.channels[name].keys
        kept = zip(trimmed(channel.state), trimmed(other.channels[name].state), strict=True)
        assert all(np.array_equal(a, b) for a, b in kept)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_any_portions_give_the_same_flags_and_the_same_bits(seed):
    n = len(KNOCK.jobs)
    rng = np.random.default_rng(seed)
    ends = [*sorted(rng.choice(np.arange(1, n), 12, replace=False).tolist()), n]
    whole, at_once = fed(KNOCK.jobs, KNOCK.events, [n])
    flags, in_portions = fed(KNOCK.jobs, KNOCK.events, ends)
    assert whole
    assert flags == whole
    assert_same_state(at_once, in_portions)


def test_a_knocked_fixture_is_named_with_its_size_and_its_direction():
    flags = [flag for flag in watch_jobs(KNOCK.jobs, events=KNOCK.events) if flag.channel == "tilt"]
    first = next(flag for flag in flags if flag.job >= KNOCK.onset)
    assert first.named is not None
    assert (first.named.kind, first.named.resource) == KNOCK.changed
    assert KNOCK.own_jobs_until(first.job) <= 6
    assert first.move.size == pytest.approx(0.040, abs=3 * first.move.size_u)
    assert first.move.earliest_job <= KNOCK.onset <= first.move.latest_job


def test_an_onset_that_was_thinned_out_lies_within_what_stands_for_it():
    """A fixture leans by 0.080 from its own job 29 on, of 52 on it alone: of onsets so old every
    fourth is kept, so 29 is not, and 28 or 32 stands for it."""
    n, onset, rng = 52, 29, np.random.default_rng(4)
    achieved = rng.normal(0, 0.008, (n, 2))
    achieved[onset - 1 :, 0] += 0.080
    told = jobs(
        2 * n,
        fixture=np.tile([0, 1], n),
        clocking_deg=np.zeros(2 * n),
        tilt_found_mm=np.zeros((2 * n, 2)),
        tilt_achieved_mm=np.stack([achieved, rng.normal(0, 0.008, (n, 2))], 1).reshape(-1, 2),
    )
    watch = Watch(budget=Budget(false_flags=1, jobs=250))
    watch.take(told)
    tilt = watch.channels["tilt"]
    move = move_of(tilt.state, tilt.keys.index(("fixture", 0)), tilt.arrays)
    first = 2 * (onset - 1)
    assert move.onset_job != first
    assert move.earliest_job <= first <= move.latest_job
    assert move.latest_job - move.earliest_job <= 16


def test_a_turned_shop_is_judged_alike():
    # All tilts turned by one angle, the clockings left: the same evidence, the same flags.
    told = KNOCK.jobs
    deg = 37.0
    cos, sin = np.cos(np.deg2rad(deg)), np.sin(np.deg2rad(deg))
    turn = np.array([[cos, -sin], [sin, cos]])
    turned = replace(
        told,
        tilt_found_mm=told.tilt_found_mm @ turn.T,
        tilt_achieved_mm=told.tilt_achieved_mm @ turn.T,
    )
    # A component's careless share is judged along the axes it is read along: take them turned too.
    plain, other = (_tilt_states(one, TILT) for one in (told, turned))
    assert np.allclose(plain, other, atol=2e-3)


def _tilt_states(told: Jobs, settings) -> np.ndarray:
    watch = Watch(budget=Budget(false_flags=1e-12), on_flag="hold")
    watch.take(told)
    x = watch.channels[settings.name].state.x[: int(watch.channels[settings.name].state.counts[0])]
    pairs = x.reshape(-1, 2)
    return np.hypot(pairs[:, 0], pairs[:, 1])


def test_a_wider_circle_tells_a_tilt_better():
    told = KNOCK.jobs
    wider = replace(
        told,
        radius_mm=np.full(len(told), 30.0),
        tilt_found_mm=told.tilt_found_mm * 1.5,
        tilt_achieved_mm=told.tilt_achieved_mm * 1.5,
    )
    one = Watch(budget=Budget())
    other = Watch(budget=Budget())
    one.take(told)
    other.take(wider)

    def fixture_variance(watch: Watch) -> float:
        channel = watch.channels["tilt"]
        fixtures = [at for at, key in enumerate(channel.keys) if key[0] == "fixture"]
        return sum(channel.state.p[4 + 2 * at, 4 + 2 * at] for at in fixtures)

    assert fixture_variance(other) < fixture_variance(one)


def test_the_filter_is_a_least_squares_estimate_with_priors():
    """With no error but the usual, the joint filter's means are those of one big normal equation.

    The reference is numpy.linalg.solve on all readings at once (Bayesian linear regression, as in
    Bishop, Pattern Recognition and Machine Learning, 2006, section 3.3; from memory).
    """
    rng = np.random.default_rng(8)
    n = 25
    lathe, gauge = rng.integers(0, 2, n), rng.integers(0, 2, n)
    y = 0.030 * rng.standard_normal() + 0.008 * lathe - 0.004 * gauge
    y = y + 0.004 * rng.standard_normal(n)
    watch = Watch(budget=Budget(false_flags=1e-12), on_flag="hold")
    watch.take(jobs(n, lathe=lathe, gauge_achieved=gauge, height_error_mm=y))
    channel = watch.channels["height"]
    got = channel.state.x[: int(channel.state.counts[0])]

    design = np.zeros((n, 5))
    design[:, 0] = 1
    order = {key: 1 + at for at, key in enumerate(channel.keys)}
    for row in range(n):
        design[row, order[("lathe", int(lathe[row]))]] = 1
        design[row, order[("gauge", int(gauge[row]))]] = 1
    prior = np.array([0.030] + [{"lathe": 0.010, "gauge": 0.006}[key[0]] for key in channel.keys])
    exact = np.linalg.solve(
        design.T @ design / 0.020**2 + np.diag(prior**-2.0), design.T @ y / 0.020**2
    )
    # The walk, the learned noise and the error mixture move it by little.
    assert got == pytest.approx(exact, abs=1.5e-3)


def test_one_wild_reading_raises_no_flag_and_bends_nothing():
    quiet = season(11, n=120)
    at = 90
    wild = quiet.jobs.tilt_achieved_mm.copy()
    wild[at] += 5.0
    spoiled = replace(quiet.jobs, tilt_achieved_mm=wild)
    a, b = (Watch(budget=Budget(), on_flag="hold") for _ in range(2))
    before, after = a.take(quiet.jobs), b.take(spoiled)
    assert [flag.job for flag in before] == [flag.job for flag in after]
    fixture = a.channels["tilt"].keys.index(("fixture", int(quiet.jobs.fixture[at])))
    row = 4 + 2 * fixture
    moved = b.channels["tilt"].state.x[row : row + 2] - a.channels["tilt"].state.x[row : row + 2]
    assert np.abs(moved).max() < 0.002


def test_a_slip_of_the_height_leaves_the_tilt_of_that_job_alone():
    quiet = season(12, n=60)
    heights = quiet.jobs.height_error_mm.copy()
    heights[40] += 1.54
    watch = Watch(budget=Budget())
    watch.take(replace(quiet.jobs, height_error_mm=heights))
    without = {
        name: np.where(np.arange(60) == 40, np.nan, getattr(quiet.jobs, name).T).T
        for name in ("tilt_found_mm", "tilt_achieved_mm", "spread_mm")
    }
    other = Watch(budget=Budget())
    other.take(replace(quiet.jobs, height_error_mm=heights, **without))
    one = watch.channels["tilt"].state
    assert np.array_equal(trimmed(one).evidence, trimmed(other.channels["tilt"].state).evidence)


def test_the_same_gauge_twice_says_nothing_of_the_gauge():
    n = 80
    rng = np.random.default_rng(4)
    told = {"gauge_achieved": np.zeros(n, int), "height_error_mm": rng.normal(0, 0.02, n)}
    cancelled = Watch(budget=Budget())
    cancelled.take(jobs(n, gauge_found=np.zeros(n, int), **told))
    assert int(cancelled.channels["height"].state.own[0]) == 0
    counted = Watch(budget=Budget())
    counted.take(jobs(n, **told))
    assert int(counted.channels["height"].state.own[0]) == n


def test_a_job_without_its_clocking_says_nothing_of_the_fixture():
    lost = replace(KNOCK.jobs, clocking_deg=np.full(len(KNOCK.jobs), np.nan))
    watch = Watch(budget=Budget())
    flags = watch.take(lost)
    assert not [flag for flag in flags if flag.likeliest.kind == "fixture"]
    state = watch.channels["tilt"].state
    at = watch.channels["tilt"].keys.index(("fixture", KNOCK.changed[1]))
    assert state.own[at] == 0


def test_two_opposite_positions_say_only_what_they_measured():
    told = KNOCK.jobs
    one_way = {
        name: np.where(np.array([True, False]), getattr(told, name), np.nan)
        for name in ("tilt_found_mm", "tilt_achieved_mm")
    }
    straight = jobs(1, fixture=[0], clocking_deg=[0.0], tilt_achieved_mm=[[0.02, np.nan]])
    watch = Watch(budget=Budget())
    watch.take(straight)
    state = watch.channels["tilt"].state
    assert state.p[4, 4] < state.p[5, 5]
    assert Watch(budget=Budget()).take(replace(told, **one_way)) is not None
    turned = jobs(
        1,
        fixture=[0],
        clocking_deg=[0.0],
        tilt_achieved_mm=[[0.02, np.nan]],
        achieved_axis_deg=[90.0],
    )
    other = Watch(budget=Budget())
    other.take(turned)
    assert other.channels["tilt"].state.p[4, 4] == pytest.approx(state.p[5, 5])


def test_a_second_round_knows_what_cut_the_face_it_found():
    """The same reading is not learned from twice: its second use moves no bias."""
    first = {"fixture": [0, 1], "clocking_deg": [0.0, 0.0]}
    once = jobs(2, **first, tilt_achieved_mm=[[0.03, 0.0], [np.nan, np.nan]])
    again = jobs(
        2,
        **first,
        tilt_achieved_mm=[[0.03, 0.0], [np.nan, np.nan]],
        tilt_found_mm=[[np.nan, np.nan], [0.03, 0.0]],
        found_fixture=[-1, 0],
        found_clocking_deg=[np.nan, 0.0],
    )
    one, two = Watch(budget=Budget()), Watch(budget=Budget())
    one.take(once)
    two.take(again)
    a, b = one.channels["tilt"].state, two.channels["tilt"].state
    assert b.x[4:8] == pytest.approx(a.x[4:8], abs=1e-15)
    assert b.p[4:8, 4:8] == pytest.approx(a.p[4:8, 4:8], abs=1e-15)
    assert np.array_equal(trimmed(a).evidence, trimmed(b).evidence)
    assert np.hypot(*b.x[2:4]) > 0  # but it does say which engine this is


def test_service_forgets_the_thing_serviced_and_nothing_else():
    watch = Watch(budget=Budget(), on_flag="hold")
    flags = watch.take(KNOCK.jobs, events=KNOCK.events)
    flag = next(flag for flag in flags if flag.channel == "tilt" and flag.job >= KNOCK.onset)
    kind, resource = flag.likeliest.kind, flag.likeliest.resource
    channel = watch.channels["tilt"]
    at = channel.keys.index((kind, resource))
    assert channel.is_told(at)
    watch.take(jobs(0), events=[Event(0, kind, resource, "serviced")])
    assert not channel.open
    state = channel.state
    assert state.own[at] == 0
    assert state.x[4 + 2 * at] == 0.0
    assert state.p[4 + 2 * at, 4 + 2 * at] == pytest.approx(state.prior_var[at])
    assert (state.own[: int(state.counts[1])] > 0).sum() == int(state.counts[1]) - 1
    assert at not in state.who[: int(state.counts[2])]


def test_while_a_flag_is_open_no_other_is_raised_for_the_same_thing():
    held = watch_jobs(KNOCK.jobs, events=[], on_flag="hold")
    named = [(flag.channel, flag.likeliest.kind, flag.likeliest.resource) for flag in held]
    assert len(named) == len(set(named))


def test_hypotheses_stay_within_the_room_kept_for_them():
    n = 700
    told = jobs(
        n, fixture=np.zeros(n, int), clocking_deg=np.zeros(n), tilt_achieved_mm=np.zeros((n, 2))
    )
    watch = Watch(budget=Budget())
    watch.take(told)
    state = watch.channels["tilt"].state
    assert 0 < int(state.counts[2]) <= MOST_HYPOTHESES


def test_every_onset_stands_for_those_around_it():
    ages = np.arange(0, 129)
    spacing = stand_for(ages, np.ones(ages.size, dtype=np.int64))
    assert (spacing[:9] == 1).all()
    assert (spacing[9:17] == 2).all()
    assert (spacing[17:33] == 4).all()
    assert (spacing[33:65] == 8).all()
    assert (spacing[65:] == 16).all()


def test_evidence_is_summed_up_whenever_it_could_flag():
    one = season(9, change=Change("fixture", 0.020))
    for until in range(60, 300, 20):
        channel = watched(one, until=until).channels["tilt"]
        log_prior = channel.arrays.log_prior
        most = float(evidence_of_each(channel.state, log_prior).max())
        assert may_reach(channel.state, log_prior, most - 1e-9)
        assert not may_reach(channel.state, log_prior, most + np.log(MOST_HYPOTHESES) + 2.0)


def test_fewer_false_flags_wished_asks_for_more_evidence():
    for channel in CHANNELS:
        few = Budget(false_flags=0.5, jobs=250).threshold(channel)
        many = Budget(false_flags=2, jobs=250).threshold(channel)
        assert few > many
        # What counts is the jobs between false flags.
        assert few == Budget(false_flags=1, jobs=500).threshold(channel)


@pytest.mark.parametrize(
    "given",
    [
        {"fixture": [0]},
        {"tilt_achieved_mm": [[0.1, 0.2, 0.3]] * 2},
        {"fixture": [-2, 0]},
        {"radius_mm": [0.0, 20.0]},
        {"speed": [1.0, 2.0]},
        {"fixture": [0.5, 1.0]},
        {"fixture": [np.nan, 1.0]},
        {"gauge_achieved": ["F1", "F2"]},
        {"edge_jobs": [np.nan, 3.0]},
        {"spread_mm": [0.0, 0.01], "spread_df": [6, 6]},
        {"spread_df": [-1, 6]},
    ],
)
def test_jobs_that_make_no_sense_are_refused(given):
    with pytest.raises(BadInput):
        jobs(2, **given)


def test_lengths_in_micrometres_are_refused_and_one_slip_is_not():
    with pytest.raises(BadInput, match="in mm"):
        jobs(5, height_error_mm=[12.0, -8.0, 20.0, 3.0, -15.0])
    assert len(jobs(5, height_error_mm=[0.012, -0.008, 25.4, 0.003, -0.015])) == 5


def test_an_infinity_is_refused():
    with pytest.raises(NotFinite):
        jobs(1, height_error_mm=[np.inf])


def test_an_event_on_what_is_not_watched_is_refused():
    with pytest.raises(BadInput, match="No spindle is watched"):
        watch_jobs(jobs(1), events=[Event(0, "spindle", 0)])


@pytest.mark.parametrize(
    "event",
    [
        Event(0, "fixture", 1, "mendet"),
        Event(0, "fixture", 1, channel="tlit"),
        Event(-1, "fixture", 1),
    ],
)
def test_an_event_that_makes_no_sense_is_refused(event):
    with pytest.raises(BadInput):
        watch_jobs(jobs(1), events=[event])


def test_an_unknown_way_with_flags_is_refused():
    with pytest.raises(BadInput, match="hold"):
        watch_jobs(jobs(1), on_flag="chek")


@pytest.mark.parametrize(
    "shares",
    [{"tilt": 1.0}, {"tilt": 0.5, "height": 0.5, "spread": 0.0}, dict.fromkeys(SHARES, 0.5)],
)
def test_every_channel_has_its_share_of_the_false_flags(shares):
    with pytest.raises(BadInput):
        Budget(shares=shares)


def test_two_whom_no_job_tells_apart_are_not_named_by_what_is_usual():
    """Each pair of hands on a fixture of its own, clocked one way, with no as-found readings: what
    moved shows alike. Were kinds as likely beforehand the two would share the probability."""
    n = 160
    for seed in range(6):
        draw = np.random.default_rng(seed)
        hands = draw.integers(0, 3, n)
        moved = ((hands == 1) & (np.arange(n) >= 100))[:, None]
        read = draw.normal(0, 0.018, (n, 2)) + np.where(moved, [0.04, 0.0], 0.0)
        told = jobs(
            n,
            fixture=hands,
            operator=hands,
            clocking_deg=np.zeros(n),
            tilt_achieved_mm=read,
        )
        flag = next(flag for flag in watch_jobs(told) if flag.job >= 100)
        both = {(one.kind, one.resource): one for one in flag.suspects[:2]}
        assert set(both) == {("fixture", 1), ("operator", 1)}
        assert flag.likeliest.probability > 0.6
        assert abs(both["fixture", 1].by_jobs - both["operator", 1].by_jobs) < 0.1
        assert flag.named is None


def test_no_false_flags_at_all_cannot_be_asked_for():
    with pytest.raises(BadInput):
        Budget(false_flags=0)


def test_how_far_fixtures_wander_is_learned_from_the_shop():
    """Fixtures that wander 1.5 um an own job ask for a longer walk; those that do not, for none."""
    scale = {}
    for walk_sd in (0.0003, 0.0015):
        watch = Watch(budget=Budget(), on_flag="check")
        told = season(5002, n=400, fixture_walk_sd=walk_sd)
        watch.take(told.jobs, events=told.events)
        scale[walk_sd] = walk_scale(watch.channels["tilt"].state)
    assert 1.0 <= scale[0.0003] < 1.5
    assert scale[0.0015] > 4


@pytest.mark.parametrize("size", [0.08, 0.12, 0.4])
@pytest.mark.parametrize("seed", [0, 1])
def test_a_knock_far_beyond_the_usual_is_no_run_of_wild_readings(size, seed):
    rng = np.random.default_rng(seed)
    before, n = 8, 14
    engine = rng.normal(0, 0.015, (n, 2))
    achieved = engine + rng.normal(0, 0.0102, (n, 2))
    achieved[before:, 0] += size
    told = jobs(
        n,
        fixture=np.zeros(n, int),
        operator=np.zeros(n, int),
        clocking_deg=np.zeros(n),
        tilt_found_mm=engine + rng.normal(0, 0.013, (n, 2)),
        tilt_achieved_mm=achieved,
    )
    flag = watch_jobs(told)[0]
    assert before < flag.job < before + 3
    assert (flag.likeliest.kind, flag.likeliest.resource) == ("fixture", 0)
