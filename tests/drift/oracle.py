"""The best anyone could do: Page's CUSUM that knows which resource, by how much and which way, and
all biases before the move, at that resource's equal share of the shop's false flags.

For a step this is optimal (Moustakides 1986, from memory); for a ramp the largest log likelihood
ratio over onsets is so only in the limit. As-found tilts are used wherever they say something.
Thresholds are simulated: while nothing moves, waits between alarms are taken as exponential.
"""

from __future__ import annotations

import numpy as np

from qc.numerics.drift import Budget
from qc.numerics.drift.watch import COLUMNS
from qc.numerics.results import FloatArray
from qc.numerics.series import BoolArray
from tests.drift import shop
from tests.drift.shop import JOBS_A_YEAR, Change, Season, column_of

CHAINS = 4000
IN_CONTROL, WARM_UP, LONGEST = 400, 60, 100
WINDOW = 60

# Columns of a season that name its resources; each counts once.
DRAWN = ("fixture", "operator", "lathe", "edge", "gauge_achieved")


def own_jobs_a_false_flag(season: Season, *, channel: str) -> float:
    """The changed resource's own jobs to each false flag it may raise."""
    assert season.changed is not None
    used = COLUMNS[channel]
    resources = sum(np.unique(getattr(season.jobs, name)).size for name in used if name in DRAWN)
    own = float((column_of(season.jobs, season.changed[0]) == season.changed[1]).mean())
    return JOBS_A_YEAR / Budget().shares[channel] * resources * own


def information(change: Change) -> float:
    """Of one own job on its bias, 1 / mm^2: noise and engine as drawn, all other biases known."""
    if change.where not in ("fixture", "operator_tilt"):
        return 1 / shop.HEIGHT_SD**2
    engine = shop.ENGINE_SD**2
    cov = np.full((2, 2), engine) + np.diag(
        [shop.READ_SD**2 + shop.OLD_FACE_SD**2, shop.READ_SD**2]
    )
    shifted = np.array([0.0 if change.where == "fixture" else 1.0, 1.0])
    return float(shifted @ np.linalg.solve(cov, shifted))


def delays(change: Change, own_jobs: FloatArray, *, rng: np.random.Generator) -> FloatArray:
    """Own jobs until each of CHAINS oracles finds it, LONGEST + 1 where not.

    own_jobs (shops,): to a false flag, by shop; chains are shared out among the shops.
    """
    chart = _Chart(change, rng)
    most = np.full(CHAINS, -np.inf)
    for _ in range(IN_CONTROL):
        most = np.maximum(most, chart.step(moved=0))
    allowed = np.quantile(most, np.exp(-IN_CONTROL / np.resize(own_jobs, CHAINS)))
    chart = _Chart(change, rng)
    for _ in range(WARM_UP):
        chart.clear(chart.step(moved=0) > allowed)
    found = np.full(CHAINS, LONGEST + 1.0)
    for job in range(1, LONGEST + 1):
        alarm = chart.step(moved=job) > allowed
        found[alarm & (found > LONGEST)] = job
    return found


class _Chart:
    """CHAINS charts of one move side by side."""

    def __init__(self, change: Change, rng: np.random.Generator) -> None:
        self.change, self.rng = change, rng
        self.sums = np.zeros((CHAINS, WINDOW if change.is_ramp else 1))

    def clear(self, which: BoolArray) -> None:
        self.sums[which] = 0.0

    def step(self, *, moved: int) -> FloatArray:
        """One more own job, the `moved`th since the move (0: not moved). The charts' values."""
        if self.change.where == "repeats":
            return self._page(self._spread_ratio(moved))
        size = self.change.size * np.sqrt(information(self.change))
        noise = self.rng.standard_normal(CHAINS)
        if not self.change.is_ramp:
            return self._page(size * (noise + size * (moved > 0)) - size**2 / 2)
        read = noise + size * moved
        # Place k holds the sum for the onset k jobs ago.
        self.sums = np.concatenate([np.zeros((CHAINS, 1)), self.sums[:, :-1]], axis=1)
        grown = size * np.arange(1, WINDOW + 1)
        self.sums += grown * read[:, None] - grown**2 / 2
        return self.sums.max(axis=1)

    def _page(self, ratio: FloatArray) -> FloatArray:
        self.sums[:, 0] = np.maximum(self.sums[:, 0] + ratio, 0.0)
        return self.sums[:, 0]

    def _spread_ratio(self, moved: int) -> FloatArray:
        """Of a variance's chi-square, of exp(size) times the usual against the usual."""
        df, size = shop.SPREAD_DF, self.change.size
        relative = self.rng.chisquare(df, CHAINS) / df * (np.exp(size) if moved else 1.0)
        return -df / 2 * size + df / 2 * relative * (1 - np.exp(-size))
