"""Run lengths of rules on rising and alternating points: orders, nodes, shifts, ties."""

import math
from itertools import islice

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.patterns import (
    FOURTEEN_ALTERNATING,
    ISO_7870_2,
    NELSON,
    RULE_SETS,
    SIX_RISING_OR_FALLING,
    WESTERN_ELECTRIC,
    AlternatingRule,
    TrendRule,
    ZoneRule,
)
from qc.numerics.run_length import rule_arl, rule_chain, rule_run_length
from qc.numerics.run_length.automaton import Machine, smallest
from qc.numerics.run_length.rule_memory import rule_memory
from tests.numerics.simulating import agrees, simulated_rules

SHIFT_AFTER = 40  # jobs, when what a chart has seen has long settled


def left_after(rule, jobs, *, nodes):
    return next(islice(rule_chain((rule,), nodes=nodes).survival(), jobs, None))


# Orders of 22 numbers by their longest run up or down: the On-Line Encyclopedia of Integer
# Sequences, A000111 (twice it: runs of 2 at the most), A001251, A001252 and A001253.
LONGEST_RUN = {
    2: 2 * 69348874393137901,
    3: 248789737587365945992,
    4: 615135860462018980316,
    5: 214562999510569012168,
}


@pytest.mark.parametrize("points", [3, 4, 5, 6])
def test_orders_without_a_long_run_are_as_many_as_counted(points):
    counted = sum(count for run, count in LONGEST_RUN.items() if run < points)
    left = left_after(TrendRule("run", points), 22, nodes=14)
    assert left == pytest.approx(counted / math.factorial(22), rel=1e-12)


def test_alternating_orders_are_as_many_as_zigzag_numbers():
    # Andre (1881): orders of 14 numbers that alternate, up first, are A000111(14).
    left = left_after(FOURTEEN_ALTERNATING, 14, nodes=14)
    assert 1 - left == pytest.approx(2 * 199360981 / math.factorial(14), rel=1e-12)
    assert left_after(FOURTEEN_ALTERNATING, 13, nodes=14) == pytest.approx(1.0, abs=1e-14)


def test_mean_run_lengths_in_closed_form():
    """Sums of orders left over all orders: Andre's sec + tan where no three rise or fall, and
    Euler's e where no three alternate, which two orders of any number do."""
    rising, alternating = TrendRule("three", 3), AlternatingRule("three", 3)
    closed = {rising: 2 * (1 / math.cos(1) + math.tan(1)) - 2, alternating: 2 * (math.e - 1)}
    for rule, arl in closed.items():
        assert rule_run_length((rule,), nodes=14).arl == pytest.approx(arl, rel=1e-11)
        assert rule_arl((rule,)) == pytest.approx(arl, rel=1e-6)


# A001251 and A001252: orders of n numbers grow as n! d^n, d found by Kotesovec.
@pytest.mark.parametrize(
    ("points", "share"), [(4, 0.92403585760753647721), (5, 0.98560865711588181864)]
)
def test_what_is_left_shrinks_as_the_orders_do(points, share):
    left = list(islice(rule_chain((TrendRule("run", points),), nodes=10).survival(), 300))
    assert left[-1] / left[-2] == pytest.approx(share, rel=1e-12)


def test_rules_on_steps_alone_do_not_see_a_shift_from_the_start():
    calm, moved = (rule_arl((SIX_RISING_OR_FALLING,), shift=shift) for shift in (0.0, 1.7))
    assert moved == pytest.approx(calm, rel=1e-12)


@pytest.mark.parametrize("shift", [0.0, 1.0])
@pytest.mark.parametrize(
    "rules", [(SIX_RISING_OR_FALLING,), (FOURTEEN_ALTERNATING,), ISO_7870_2, NELSON]
)
def test_four_nodes_a_zone_are_enough(rules, shift):
    by_nodes = [rule_run_length(rules, shift=shift, nodes=nodes).arl for nodes in (4, 6, 8)]
    assert by_nodes[0] == pytest.approx(by_nodes[-1], rel=1e-5)
    assert by_nodes[1] == pytest.approx(by_nodes[-1], rel=1e-8)
    assert rule_run_length(rules, shift=shift).arl == pytest.approx(by_nodes[0], rel=1e-12)


def test_three_nodes_are_too_few():
    three, more = (rule_run_length((SIX_RISING_OR_FALLING,), nodes=nodes).arl for nodes in (3, 8))
    assert abs(three / more - 1) > 1e-4


def test_a_mean_summed_is_the_mean_solved_for():
    for rules in (*RULE_SETS.values(), (SIX_RISING_OR_FALLING,)):
        assert rule_run_length(rules).arl == pytest.approx(rule_arl(rules), rel=1e-8)


def test_steps_that_never_signal_leave_the_zones_as_they_are():
    never = (*WESTERN_ELECTRIC, TrendRule("60 rising", 60))
    for settled in (False, True):
        asked = {"shift": 0.7, "settled": settled}
        assert rule_run_length(never, **asked).arl == pytest.approx(
            rule_arl(WESTERN_ELECTRIC, **asked), rel=1e-9
        )


def test_a_shift_either_way_is_found_alike():
    for settled in (False, True):
        up, down = (
            rule_run_length(NELSON, shift=shift, settled=settled).arl for shift in (1.2, -1.2)
        )
        assert up == pytest.approx(down, rel=1e-9)


@pytest.mark.parametrize("rules", [NELSON, ISO_7870_2])
def test_whole_sets_find_a_shift_as_soon_as_simulated(rules):
    length = simulated_rules(rules, rng=np.random.default_rng(26), shift=1.0)
    assert agrees(length, rule_arl(rules, shift=1.0))


def test_whole_sets_find_a_late_shift_as_soon_as_simulated():
    """Charts that ran 40 jobs without a signal, and then moved."""
    rng, rules = np.random.default_rng(27), ISO_7870_2
    calm = rng.standard_normal((140_000, SHIFT_AFTER))
    quiet = ~np.logical_or.reduce([rule.fires(calm).any(axis=1) for rule in rules])
    z = np.concatenate([calm[quiet], rng.standard_normal((quiet.sum(), 130)) + 1.0], axis=1)
    fired = np.logical_or.reduce([rule.fires(z) for rule in rules])
    assert fired.any(axis=1).all()
    length = fired.argmax(axis=1) - SHIFT_AFTER + 1
    assert agrees(length, rule_arl(rules, shift=1.0, settled=True))


@pytest.mark.parametrize(("offset", "longer"), [(0.0, 1.30), (0.05, 1.075)])
def test_rounded_readings_tie_and_signal_more_rarely(offset, longer):
    """In steps of 0.1 sigma, the centre on a mark or midway between two: simulated, as ties are
    beyond the sums. Equal neighbours neither rise, fall nor alternate, and a reading on an edge is
    on neither side."""
    length = simulated_rules(NELSON, rng=np.random.default_rng(28), step=0.1, offset=offset)
    error = length.std() / math.sqrt(length.size)
    print(f"{length.size} runs: {length.mean():.2f}, Monte Carlo error {error:.2f}")
    assert length.mean() == pytest.approx(longer * rule_run_length(NELSON).arl, abs=4 * error)


def test_the_machine_of_a_set_has_no_state_too_many():
    for rules, most in ((ISO_7870_2, 73), (NELSON, 5249)):
        machine = rule_memory(rules).machine
        assert machine.states == most
        assert smallest(machine).states == most


def test_states_that_no_letters_tell_apart_are_one():
    # Three states count a run of two; the fourth only repeats the first under another number.
    after = np.array([[1, 3], [2, 0], [-1, 3], [1, 0]])
    small = smallest(Machine(after, np.zeros(4, dtype=np.int64)))
    assert small.states == 3
    state = small.start
    for letter in (0, 1, 0, 0):
        state = small.after[state, letter]
    assert small.after[state, 0] == -1


def test_a_rule_that_cannot_signal_runs_for_ever():
    assert rule_run_length((ZoneRule("beyond 50", 1, 1, low=50.0),)).arl == math.inf


def test_no_rules_have_no_run_length():
    with pytest.raises(BadInput):
        rule_run_length(())
