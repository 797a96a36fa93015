"""Rules against a plain reading of their words, at boundaries and ties, and job by job."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, NotFinite
from qc.numerics.patterns import (
    BEYOND_3,
    EIGHT_BEYOND_1,
    EIGHT_SAME_SIDE,
    FIFTEEN_WITHIN_1,
    FOUR_OF_FIVE,
    FOURTEEN_ALTERNATING,
    ISO_7870_2,
    NELSON,
    NINE_SAME_SIDE,
    RULE_SETS,
    SEVEN_RISING_OR_FALLING,
    SEVEN_SAME_SIDE,
    SIX_RISING_OR_FALLING,
    TWO_OF_THREE,
    WESTERN_ELECTRIC,
    AlternatingRule,
    TrendRule,
    ZoneRule,
    find_patterns,
    newest_fired,
    points_needed,
)

EVERY_RULE = tuple(dict.fromkeys([*NELSON, *ISO_7870_2, EIGHT_SAME_SIDE]))
# Tenths, so that ties and points exactly on 0, 1, 2 and 3 sigma come up; risen and zigzag pieces,
# so that long orders do.
piece = st.lists(st.integers(-35, 35).map(lambda tenth: tenth / 10), min_size=1, max_size=20)


def zigzag(z):
    return [-abs(x) if i % 2 else abs(x) for i, x in enumerate(z)]


pieces = st.one_of(piece, piece.map(sorted), piece.map(zigzag), piece.map(lambda z: [0.5] * len(z)))
tenths = st.lists(pieces, min_size=1, max_size=4).map(
    lambda parts: [z for part in parts for z in part]
)


def fires_by_its_words(rule, z, i):
    """Whether point i completes the pattern, read one window at a time."""
    if isinstance(rule, ZoneRule):
        window = z[max(0, i - rule.m + 1) : i + 1]
        sides = [window, [-x for x in window]] if rule.one_side else [[abs(x) for x in window]]
        return any(
            sum(rule.low < x < rule.high for x in side) >= rule.k
            and rule.low < side[-1] < rule.high
            for side in sides
        )
    if i + 1 < rule.points:
        return False
    steps = np.diff(z[i + 1 - rule.points : i + 1]).tolist()
    if isinstance(rule, TrendRule):
        return all(s > 0 for s in steps) or all(s < 0 for s in steps)
    return all(a * b < 0 for a, b in pairwise(steps))


@given(tenths)
def test_every_rule_fires_where_its_words_say(z):
    found = find_patterns(z, rules=EVERY_RULE)
    for column, rule in enumerate(EVERY_RULE):
        expected = [fires_by_its_words(rule, z, i) for i in range(len(z))]
        assert found.fired[:, column].tolist() == expected, rule.name


@given(tenths)
def test_the_newest_job_alone_gives_the_same_answer(z):
    found = find_patterns(z, rules=EVERY_RULE)
    for job in range(len(z)):
        tail = z[: job + 1][-points_needed(EVERY_RULE) :]
        fired = tuple(rule for rule, yes in zip(EVERY_RULE, found.fired[job], strict=True) if yes)
        assert newest_fired(tail, rules=EVERY_RULE) == fired


@given(tenths)
def test_turning_the_chart_over_changes_nothing(z):
    up = find_patterns(z, rules=EVERY_RULE)
    down = find_patterns(-np.array(z), rules=EVERY_RULE)
    assert (up.fired == down.fired).all()


def test_a_service_event_breaks_every_pattern():
    z = np.full(16, 0.5)
    start = np.arange(16) == 8
    found = find_patterns(z, rules=(EIGHT_SAME_SIDE, NINE_SAME_SIDE), stretch_start=start)
    assert np.flatnonzero(found.fired[:, 0]).tolist() == [7, 15]
    assert not found.fired[:, 1].any()
    assert found.first() == 7
    assert found.first_of(EIGHT_SAME_SIDE) == 7
    assert found.first_of(NINE_SAME_SIDE) is None


def test_the_limit_itself_is_inside():
    assert find_patterns([3.0, -3.0, math.nextafter(3.0, 4.0)], rules=(BEYOND_3,)).first() == 2


@pytest.mark.parametrize("rules", [NELSON, WESTERN_ELECTRIC])
def test_fewer_points_than_a_rule_needs(rules):
    for n in range(3):
        assert find_patterns(np.zeros(n), rules=rules).fired.shape == (n, len(rules))
        assert find_patterns(np.zeros(n), rules=rules).first() is None


def test_sets_are_data_a_shop_can_add_to():
    ours = (*RULE_SETS["limits only"], ZoneRule("3 of 4 beyond 1.5 sigma", 3, 4, low=1.5))
    found = find_patterns([1.6, 0.0, 1.6, 1.6], rules=ours)
    assert found.fired[:, 1].tolist() == [False, False, False, True]


# Nelson (1984) test probabilities by combinatorics; 199360981 is the zigzag number E14.
CHANCES = [
    (NINE_SAME_SIDE, 2 / 2**9),
    (SEVEN_SAME_SIDE, 2 / 2**7),
    (SIX_RISING_OR_FALLING, 2 / math.factorial(6)),
    (SEVEN_RISING_OR_FALLING, 2 / math.factorial(7)),
    (FOURTEEN_ALTERNATING, 2 * 199360981 / math.factorial(14)),
]


@pytest.mark.parametrize(("rule", "chance"), CHANCES)
def test_chances_by_combinatorics(rule, chance):
    assert rule.chance() == pytest.approx(chance, rel=1e-12)


@pytest.mark.parametrize(
    "rule",
    [
        TWO_OF_THREE,
        FOUR_OF_FIVE,
        FIFTEEN_WITHIN_1,
        EIGHT_BEYOND_1,
        ZoneRule("2 of 5 beyond 0.5 sigma", 2, 5, low=0.5),
        ZoneRule("2 of 4 between 0.5 and 1.5", 2, 4, low=0.5, high=1.5),
    ],
)
def test_chances_by_simulation(rule):
    windows = 400_000
    z = np.random.default_rng(31).standard_normal((windows, rule.m))
    shown = np.logical_or.reduce([side.sum(axis=1) >= rule.k for side in rule.holds(z)])
    chance = rule.chance()
    error = math.sqrt(chance * (1 - chance) / windows)
    assert shown.mean() == pytest.approx(chance, abs=4 * error)


@pytest.mark.parametrize(
    "build",
    [
        lambda: ZoneRule("none", 0, 3, low=1.0),
        lambda: ZoneRule("more than there are", 4, 3, low=1.0),
        lambda: ZoneRule("empty", 1, 1, low=2.0, high=1.0),
        lambda: ZoneRule("no side", 1, 1, high=1.0),
        lambda: TrendRule("one point", 1),
        lambda: AlternatingRule("two points", 2),
    ],
)
def test_rules_that_mean_nothing_are_refused(build):
    with pytest.raises(BadInput):
        build()


def test_not_a_number_is_refused():
    with pytest.raises(NotFinite):
        find_patterns([0.0, np.nan], rules=NELSON)
