"""Run lengths of rule sets: printed, simulated, and their distribution."""

import math

import numpy as np
import pytest

from qc.numerics.patterns import (
    LIMITS_ONLY,
    NELSON,
    WESTERN_ELECTRIC,
    ZoneRule,
    find_patterns,
)
from qc.numerics.run_length import (
    individuals_arl,
    rule_arl,
    rule_chain,
)
from tests.numerics.simulating import agrees, simulated_rules


# Champ & Woodall (1987), in-control run length of zone rules; from memory.
@pytest.mark.parametrize(
    ("rules", "printed"),
    [
        (LIMITS_ONLY, 370.40),
        (WESTERN_ELECTRIC[:2], 225.44),
        (WESTERN_ELECTRIC[:3], 132.89),
        (WESTERN_ELECTRIC, 91.75),
    ],
)
def test_printed_run_lengths_of_zone_rules(rules, printed):
    assert rule_arl(rules) == pytest.approx(printed, abs=5e-3)


@pytest.mark.parametrize("shift", [0.0, 0.8])
def test_zone_rules_of_any_kind_agree_with_simulation(shift):
    rules = (
        ZoneRule("3 of 4 beyond 1.2", 3, 4, low=1.2),
        ZoneRule("6 in a row within 0.8", 6, 6, high=0.8, one_side=False),
        ZoneRule(
            "2 of 3 between 1.5 and 2.5, either side", 2, 3, low=1.5, high=2.5, one_side=False
        ),
    )
    assert agrees(
        simulated_rules(rules, rng=np.random.default_rng(22), shift=shift),
        rule_arl(rules, shift=shift),
    )


def test_simulated_runs_begin_afresh():
    # Rules over one long sequence a run, against reading each run by itself.
    rng = np.random.default_rng(23)
    alone = np.array(
        [find_patterns(rng.standard_normal(900), rules=NELSON).first() + 1 for _ in range(2000)]
    )
    seen = simulated_rules(NELSON, rng=np.random.default_rng(24), runs=20_000)
    error = math.hypot(seen.std() / math.sqrt(seen.size), alone.std() / math.sqrt(alone.size))
    assert seen.mean() == pytest.approx(alone.mean(), abs=4 * error)


def test_the_distribution_of_single_points_is_geometric():
    chain = rule_chain(LIMITS_ONLY)
    p = 1 / individuals_arl(3.0)
    assert chain.sd() == pytest.approx(math.sqrt(1 - p) / p)
    survival = chain.survival()
    assert [next(survival) for _ in range(4)] == pytest.approx([(1 - p) ** n for n in range(4)])
    for share in (0.01, 0.5, 0.99):
        assert chain.quantile(share) == math.ceil(math.log(1 - share) / math.log(1 - p))
