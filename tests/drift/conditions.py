"""What the report puts shops through: the moves to be found, and what shops are like otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from unittest.mock import patch

import numpy as np

from qc.numerics.results import FloatArray
from tests.drift import shop
from tests.drift.shop import Change, Season, season

TILT, HEIGHT, SPREAD = "tilt", "height", "spread"

# Name -> the channel that should find it, and what moves.
MOVES: dict[str, tuple[str, Change]] = {
    "fixture knock 0.040": (TILT, Change("fixture", 0.040)),
    "fixture knock 0.020": (TILT, Change("fixture", 0.020)),
    "fixture knock 0.010": (TILT, Change("fixture", 0.010)),
    "fixture ramp 0.001 a job": (TILT, Change("fixture", 0.001, is_ramp=True)),
    "operator tilt 0.020": (TILT, Change("operator_tilt", 0.020)),
    "gauge height 0.020": (HEIGHT, Change("gauge", 0.020)),
    "lathe height 0.020": (HEIGHT, Change("lathe", 0.020)),
    "operator height 0.020": (HEIGHT, Change("operator", 0.020)),
    "edge ramp 0.001 a job": (HEIGHT, Change("edge", 0.001, is_ramp=True)),
    "repeats x1.6": (SPREAD, Change("repeats", 2 * float(np.log(1.6)))),
}


@contextmanager
def drawn_with(**constants: object) -> Iterator[None]:
    """Within it, seasons are drawn with other constants of the simulator, by the same numbers."""
    with patch.multiple(shop, **constants):
        yield


def in_control(condition: str, seed: int, *, n: int) -> Season:
    return CONDITIONS[condition](seed, n)


def _clocking_missing(seed: int, n: int) -> Season:
    one = season(seed, n=n)
    lost = np.random.default_rng([seed, 1]).random(n) < 0.20
    clocking = np.where(lost, np.nan, one.jobs.clocking_deg)
    return replace(one, jobs=replace(one.jobs, clocking_deg=clocking))


def turned(vector: FloatArray, clocking_deg: FloatArray) -> FloatArray:
    """Fixture vectors (n, 2) as seen on the engine's clock."""
    cos, sin = np.cos(np.deg2rad(clocking_deg)), np.sin(np.deg2rad(clocking_deg))
    x, y = vector[:, 0], vector[:, 1]
    return np.stack([cos * x - sin * y, sin * x + cos * y], axis=1)


CONDITIONS: dict[str, Callable[[int, int], Season]] = {
    "plain": lambda seed, n: season(seed, n=n),
    "noise with Student-t tails, 5 df": lambda seed, n: season(seed, n=n, noise="t5"),
    "2 % of sets 2.54 times too wide": lambda seed, n: season(seed, n=n, noise="unit_slips"),
    "2 % of jobs one position 0.120 off": lambda seed, n: season(seed, n=n, noise="outliers"),
    "clocking missing in 20 %": _clocking_missing,
    "fixtures walk 0.001 a job": lambda seed, n: season(seed, n=n, fixture_walk_sd=0.001),
}
