"""Gauge studies: balanced against textbook sums, unbalanced and REML against plain likelihood,
intervals by coverage."""

import math

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.gauge_study import (
    anova_table,
    gauge_bias,
    gauge_grid,
    gauge_linearity,
    gauge_readings,
    gauge_study,
    range_study,
    reml_components,
)


def simulated(rng, *, parts=6, operators=3, trials=2, sd=(1.0, 0.3, 0.2, 0.1)):
    """A full grid; sd of part, operator, interaction, repeatability."""
    shapes = [(parts, 1, 1), (1, operators, 1), (parts, operators, 1), (parts, operators, trials)]
    return 5 + sum(rng.normal(0, s, shape) for s, shape in zip(sd, shapes, strict=True))


def textbook(y):
    """Balanced two-way sums of squares straight from cell means."""
    p, o, r = y.shape
    grand, part, op, cell = y.mean(), y.mean(axis=(1, 2)), y.mean(axis=(0, 2)), y.mean(axis=2)
    return [
        o * r * ((part - grand) ** 2).sum(),
        p * r * ((op - grand) ** 2).sum(),
        r * ((cell - part[:, None] - op + grand) ** 2).sum(),
        ((y - cell[:, :, None]) ** 2).sum(),
    ]


def test_balanced_sums_are_the_textbook_ones():
    y = simulated(np.random.default_rng(81), parts=5, operators=3, trials=4)
    table = anova_table(gauge_grid(y))
    assert table.ss.tolist() == pytest.approx(textbook(y))
    assert table.df.tolist() == [4, 2, 8, 45]
    assert table.ss_total == pytest.approx(sum(textbook(y)))
    # E MS_part = r o part + r interaction + repeatability, and so on.
    expected = [[12, 0, 4, 1], [0, 20, 4, 1], [0, 0, 4, 1], [0, 0, 0, 1]]
    np.testing.assert_allclose(table.expected, expected, atol=1e-9)


def test_large_readings_keep_their_digits():
    y = np.round(simulated(np.random.default_rng(82), sd=(8, 4, 2, 1)))
    near, far = anova_table(gauge_grid(y)), anova_table(gauge_grid(y + 1e9))
    np.testing.assert_allclose(far.ss, near.ss, rtol=1e-9)


def test_unbalanced_components_are_right_on_average():
    rng = np.random.default_rng(83)
    keep = rng.random((6, 3, 3)) < 0.7
    keep[:, :, 0] |= True
    keep[0, 1] = False
    part, operator, _ = (index[keep] for index in np.indices(keep.shape))
    found = np.array(
        [
            anova_table(
                gauge_readings(simulated(rng, trials=3)[keep], part=part, operator=operator)
            ).components
            for _ in range(1500)
        ]
    )
    error = found.std(axis=0) / math.sqrt(len(found))
    truth = np.array([1.0, 0.3, 0.2, 0.1]) ** 2
    assert (np.abs(found.mean(axis=0) - truth) < 4 * error).all()


def restricted_likelihood(readings, part, operator, interaction, repeatability):
    """Straight from the covariance matrix."""
    y = readings.value
    same = [np.equal.outer(n, n) for n in (readings.part, readings.operator, readings.cell)]
    v = repeatability * np.eye(y.size)
    v += part * same[0] + operator * same[1] + interaction * same[2]
    ones = np.ones(y.size)
    inverse = np.linalg.inv(v)
    weight = ones @ inverse @ ones
    mean = ones @ inverse @ y / weight
    off = y - mean
    return -0.5 * (
        np.linalg.slogdet(v)[1]
        + math.log(weight)
        + off @ inverse @ off
        + (y.size - 1) * math.log(2 * math.pi)
    )


def test_reml_is_the_highest_of_the_plain_likelihood():
    rng = np.random.default_rng(84)
    keep = rng.random((5, 3, 3)) < 0.75
    part, operator, _ = (index[keep] for index in np.indices(keep.shape))
    y = simulated(rng, parts=5, trials=3)[keep]
    readings = gauge_readings(y, part=part, operator=operator)
    found = reml_components(readings)
    best = [found.part, found.operator, found.interaction, found.repeatability]
    highest = restricted_likelihood(readings, *best)
    assert found.log_likelihood == pytest.approx(highest, abs=1e-6)
    for i in range(4):
        for step in (0.98, 1.02):
            moved = [v * step if j == i else v for j, v in enumerate(best)]
            assert restricted_likelihood(readings, *moved) <= highest + 1e-9


def test_reml_is_the_analysis_of_variance_when_balanced():
    y = simulated(np.random.default_rng(85), sd=(1.0, 0.5, 0.5, 0.1))
    readings = gauge_grid(y)
    table = anova_table(readings)
    assert (table.components > 0).all()
    found = reml_components(readings)
    got = [found.part, found.operator, found.interaction, found.repeatability]
    assert got == pytest.approx(table.components.tolist(), rel=1e-5)


def test_the_interaction_is_pooled_by_the_stated_rule():
    rng = np.random.default_rng(86)
    strong = gauge_study(gauge_grid(simulated(rng, sd=(1, 0.3, 0.5, 0.1))))
    assert strong.recommended == "with interaction"
    assert strong.interaction_p < 0.25
    assert strong.components == strong.with_interaction
    studies = [gauge_study(gauge_grid(simulated(rng, sd=(1, 0.3, 0, 0.1)))) for _ in range(40)]
    pooled = [s for s in studies if s.interaction_p > 0.25]
    assert len(pooled) > 20
    assert all(s.components == s.pooled and s.recommended == "pooled" for s in pooled)


def test_one_trial_a_cell_pools_by_necessity():
    study = gauge_study(gauge_grid(simulated(np.random.default_rng(87), trials=1)))
    assert study.recommended == "pooled"
    assert study.with_interaction is None
    assert study.interaction_p is None
    assert study.components.repeatability > 0
    with pytest.raises(BadInput):
        anova_table(gauge_grid(simulated(np.random.default_rng(87), trials=1)))


@pytest.mark.parametrize("sd", [(1.0, 0.3, 0.2, 0.1), (1.0, 0.1, 0.0, 0.1)])
def test_intervals_cover(sd):
    rng = np.random.default_rng(88)
    truth = {
        "repeatability_interval": sd[3] ** 2,
        "grr_interval": sd[1] ** 2 + sd[2] ** 2 + sd[3] ** 2,
        "part_interval": sd[0] ** 2,
        "reproducibility_interval": sd[1] ** 2 + sd[2] ** 2,
    }
    runs = 300
    held = dict.fromkeys(truth, 0)
    for _ in range(runs):
        study = gauge_study(gauge_grid(simulated(rng, parts=8, operators=4, sd=sd)))
        for name, value in truth.items():
            low, high = getattr(study, name)
            held[name] += low <= value <= high
    error = math.sqrt(0.95 * 0.05 / runs)
    for name, count in held.items():
        print(f"{name}: {count / runs:.3f} of 0.95, Monte Carlo error {error:.3f}")
        # Pooling by the F test takes a little; never by more than four in a hundred.
        assert count / runs > 0.95 - 0.04 - 3 * error


def test_share_of_tolerance_and_classes():
    study = gauge_study(gauge_grid(simulated(np.random.default_rng(89))))
    grr = math.sqrt(study.components.grr)
    assert study.share_of_tolerance(2.0) == pytest.approx(6 * grr / 2.0)
    low, high = study.share_of_tolerance_interval(2.0)
    assert low < study.share_of_tolerance(2.0) < high
    assert study.components.classes == pytest.approx(
        math.sqrt(2) * math.sqrt(study.components.part) / grr
    )
    with pytest.raises(BadInput):
        study.share_of_tolerance(0.0)


def test_names_and_order_do_not_matter():
    y = simulated(np.random.default_rng(90))
    part, operator, _ = np.indices(y.shape)
    order = np.random.default_rng(91).permutation(y.size)
    named = gauge_readings(
        y.ravel()[order],
        part=np.array([f"cylinder {p}" for p in part.ravel()])[order],
        operator=np.array(["Ann", "Bo", "Cy"])[operator.ravel()][order],
    )
    grid = gauge_study(gauge_grid(y))
    assert gauge_study(named).components.grr == pytest.approx(grid.components.grr)
    assert range_study(named).grr == pytest.approx(range_study(gauge_grid(y)).grr)


def test_range_method_estimates_the_same_spread():
    rng = np.random.default_rng(92)
    found = [
        range_study(gauge_grid(simulated(rng, parts=10, sd=(1, 0, 0, 0.2)))).repeatability
        for _ in range(400)
    ]
    # Its square is unbiased: d2* is made for that.
    assert np.mean(np.square(found)) == pytest.approx(0.04, rel=0.03)


def test_range_method_needs_a_balanced_study():
    with pytest.raises(BadInput):
        range_study(gauge_grid(simulated(np.random.default_rng(93), trials=1)))
    with pytest.raises(BadInput):
        range_study(
            gauge_readings(
                [1.0, 2.0, 3.0, 4.0, 5.0], part=[0, 0, 1, 1, 1], operator=[0, 1, 0, 1, 1]
            )
        )


def test_bias_is_a_t_test():
    found = gauge_bias([1.01, 1.03, 1.02], standard=1.0)
    assert found.bias == pytest.approx(0.02)
    assert found.standard_error == pytest.approx(0.01 / math.sqrt(3))
    # t = 2 sqrt 3 with 2 degrees: p = 1 - t / sqrt(2 + t^2).
    t = 2 * math.sqrt(3)
    assert found.p == pytest.approx(1 - t / math.sqrt(2 + t**2))
    assert found.interval.high - found.bias == pytest.approx(4.302653 * found.standard_error)
    assert gauge_bias([1.0, 1.0], standard=1.0).p is None


def test_linearity_recovers_slope_and_bias():
    standards = np.repeat([0.5, 1.0, 1.5, 2.0], 5)
    rng = np.random.default_rng(94)
    held = 0
    for _ in range(500):
        readings = standards * 1.01 - 0.004 + rng.normal(0, 0.003, standards.size)
        found = gauge_linearity(readings, standards=standards)
        _, interval = found.bias_at(2.0)
        held += (
            found.slope_interval.low < 0.01 < found.slope_interval.high
            and interval.low < 0.016 < interval.high
        )
    assert found.bias_at(1.25)[0] == pytest.approx(found.at_middle)
    # Two intervals of 0.95 that are strongly alike.
    assert held / 500 > 0.9 - 4 * math.sqrt(0.09 / 500)
    exact = gauge_linearity(standards * 1.01, standards=standards)
    assert exact.slope == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("build", "error"),
    [
        (lambda: gauge_grid([[1.0, 2.0]]), BadInput),
        (lambda: gauge_grid([[[1.0], [1.0, 2.0]]]), BadInput),
        (lambda: gauge_grid(np.ones((1, 3, 2))), BadInput),
        (lambda: gauge_grid(np.ones((3, 1, 2))), BadInput),
        (lambda: gauge_grid(np.full((2, 2, 2), np.nan)), NotFinite),
        (lambda: gauge_readings([1.0, 2.0], part=[0, 1], operator=[0, 1]), TooFewReadings),
        (lambda: gauge_readings([1.0, 2.0], part=[0], operator=[0, 1]), BadInput),
        (
            lambda: gauge_readings([1.0] * 4, part=[0, 0, 1, 1], operator=[0, 0, 1, 1]),
            BadInput,
        ),
        (lambda: gauge_study(gauge_grid(np.ones((3, 2, 2)))), BadInput),
        (lambda: gauge_bias([1.0], standard=1.0), TooFewReadings),
        (lambda: gauge_linearity([1.0, 2.0, 3.0], standards=[1.0, 1.0, 1.0]), BadInput),
    ],
)
def test_studies_that_show_nothing_are_refused(build, error):
    with pytest.raises(error):
        build()
