"""What the report puts shops through: the moves to be found, and what shops are like otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from unittest.mock import patch

import numpy as np

from qc.numerics.results import FloatArray
from tests.drift import shop
from tests.drift.shop import Change, Noise, Season, season, without_found

Draw = Callable[[int, int, Change | None], Season]
PLAIN = "plain"

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


def early(change: Change) -> Change:
    """The same move at job 20 to 40, before the shop has much of a history."""
    return replace(change, earliest=20, latest=40)


@contextmanager
def drawn_with(**constants: object) -> Iterator[None]:
    """Within it, seasons are drawn with other constants of the simulator, by the same numbers."""
    with patch.multiple(shop, **constants):
        yield


def drawn(condition: str, seed: int, *, n: int, change: Change | None = None) -> Season:
    """One shop of so many jobs under this condition."""
    return CONDITIONS[condition](seed, n, change)


def _with_noise(noise: Noise) -> Draw:
    return lambda seed, n, change: season(seed, n=n, change=change, noise=noise)


def _clocking_missing(seed: int, n: int, change: Change | None) -> Season:
    one = season(seed, n=n, change=change)
    lost = np.random.default_rng([seed, 1]).random(n) < 0.20
    clocking = np.where(lost, np.nan, one.jobs.clocking_deg)
    return replace(one, jobs=replace(one.jobs, clocking_deg=clocking))


def _two_positions(seed: int, n: int, change: Change | None) -> Season:
    """Of each job one axis, drawn anew, is measured both times."""
    one = season(seed, n=n, change=change)
    axis = np.random.default_rng([seed, 2]).integers(0, 2, n)
    seen = np.arange(2) == axis[:, None]
    both = {
        name: np.where(seen, getattr(one.jobs, name), np.nan)
        for name in ("tilt_found_mm", "tilt_achieved_mm")
    }
    return replace(one, jobs=replace(one.jobs, **both))


def turned(vector: FloatArray, clocking_deg: FloatArray) -> FloatArray:
    """Fixture vectors (n, 2) as seen on the engine's clock."""
    cos, sin = np.cos(np.deg2rad(clocking_deg)), np.sin(np.deg2rad(clocking_deg))
    x, y = vector[:, 0], vector[:, 1]
    return np.stack([cos * x - sin * y, sin * x + cos * y], axis=1)


CONDITIONS: dict[str, Draw] = {
    PLAIN: _with_noise("plain"),
    "noise with Student-t tails, 5 df": _with_noise("t5"),
    "2 % of sets 2.54 times too wide": _with_noise("unit_slips"),
    "2 % of jobs one position 0.120 off": _with_noise("outliers"),
    "clocking missing in 20 %": _clocking_missing,
    "two positions": _two_positions,
    "no as-found tilt": lambda seed, n, change: without_found(season(seed, n=n, change=change)),
    "fixtures walk 0.001 a job": lambda seed, n, change: season(
        seed, n=n, change=change, fixture_walk_sd=0.001
    ),
}

# Where a move is looked for besides the plain shops: what moves, and the condition.
ELSEWHERE = [
    ("fixture knock 0.020", condition) for condition in CONDITIONS if condition != PLAIN
] + [
    (move, condition)
    for move in ("gauge height 0.020", "operator height 0.020")
    for condition in list(CONDITIONS)[1:4]
]
# Moves that come at job 20 to 40 of a shop with no history.
EARLY = (
    "fixture knock 0.040",
    "fixture knock 0.020",
    "gauge height 0.020",
    "operator height 0.020",
)
