"""How often the intervals of a gauge study hold the truth where cells are unequal or missing.

Thousands of studies of one layout at once: sums of squares by least squares of nested models, for
which anova_table gives degrees of freedom and expected mean squares; then the interval as a study
gets it, the pooling of the interaction included.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import f as f_distribution

from qc.numerics.gauge_study import POOL_ABOVE_P, GaugeReadings, anova_table, gauge_readings
from qc.numerics.gauge_study.intervals import variance_bounds

RUNS = 3000
ERROR = math.sqrt(0.95 * 0.05 / RUNS)


def layouts():
    """Six parts, three hands: complete, and the ways in which studies go unequal."""
    kept = {"complete": np.ones((6, 3, 2), dtype=bool)}
    kept["a third lost"] = np.ones((6, 3, 3), dtype=bool)
    lost = np.random.default_rng(5).random((6, 3, 3)) < 0.3
    kept["a third lost"][lost] = False
    kept["stopped early"] = np.ones((6, 3, 2), dtype=bool)
    kept["stopped early"][3:, 2, 1] = kept["stopped early"][4:, 1, 1] = False
    kept["one hand read two parts"] = np.ones((6, 3, 2), dtype=bool)
    kept["one hand read two parts"][2:, 2] = False
    return kept


LAYOUTS = layouts()
# Part, operator, interaction, repeatability.
TRUTHS = [(1.0, 0.1, 0.0, 0.1), (1.0, 0.02, 0.3, 0.1)]


def residual_ss(y, *designs):
    design = np.hstack([np.ones((len(y), 1)), *designs])
    fitted = design @ np.linalg.lstsq(design, y, rcond=None)[0]
    return ((y - fitted) ** 2).sum(axis=0)


def tables(readings: GaugeReadings, y):
    """Mean squares of every study with the interaction apart, and with it pooled."""
    part, operator, cell = (
        np.eye(number.max() + 1)[number]
        for number in (readings.part, readings.operator, readings.cell)
    )
    both, cells = residual_ss(y, part, operator), residual_ss(y, cell)
    of_part, of_operator = residual_ss(y, operator) - both, residual_ss(y, part) - both
    full, pooled = anova_table(readings), anova_table(readings, interaction=False)
    return (
        (full, np.array([of_part, of_operator, both - cells, cells]) / full.df[:, None]),
        (pooled, np.array([of_part, of_operator, both]) / pooled.df[:, None]),
    )


def bounds(table, ms):
    by_ms = np.linalg.inv(table.expected)
    wanted = {
        "repeatability": by_ms[-1],
        "reproducibility": by_ms[1:-1].sum(axis=0),
        "both": by_ms[1:].sum(axis=0),
        "part": by_ms[0],
    }
    return {name: variance_bounds(row, ms, table.df) for name, row in wanted.items()}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("sd", TRUTHS)
def test_intervals_hold_the_truth(layout, sd):
    rng = np.random.default_rng(95)
    part, operator, _ = (index[LAYOUTS[layout]] for index in np.indices(LAYOUTS[layout].shape))
    readings = gauge_readings(rng.normal(size=part.size), part=part, operator=operator)
    numbers = (readings.part, readings.operator, readings.cell, np.arange(part.size))
    effects = [rng.normal(0, s, (n.max() + 1, RUNS))[n] for s, n in zip(sd, numbers, strict=True)]
    (full, full_ms), (pooled, pooled_ms) = tables(readings, sum(effects))
    p = f_distribution.sf(full_ms[2] / full_ms[3], full.df[2], full.df[3])
    apart, together = bounds(full, full_ms), bounds(pooled, pooled_ms)
    truth = {
        "repeatability": sd[3] ** 2,
        "reproducibility": sd[1] ** 2 + sd[2] ** 2,
        "both": sd[1] ** 2 + sd[2] ** 2 + sd[3] ** 2,
        "part": sd[0] ** 2,
    }
    for name, value in truth.items():
        low, high = (
            np.where(p > POOL_ABOVE_P, b, a)
            for a, b in zip(apart[name], together[name], strict=True)
        )
        held = ((low <= value) & (value <= high)).mean()
        print(f"{layout}, {name}: {held:.3f} of 0.95, Monte Carlo error {ERROR:.3f}")
        assert 0.93 - 3 * ERROR < held < 0.97 + 3 * ERROR
