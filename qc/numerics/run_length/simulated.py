"""Run length of any rule set by simulation, for rules that no finite chain holds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.errors import BadInput
from qc.numerics.patterns import Rule, ZoneRule, points_needed
from qc.numerics.run_length.zones import rule_arl
from qc.numerics.series import require_number

_BLOCK = 64


@dataclass(frozen=True)
class ArlEstimate:
    """A mean run length and its standard error, 0 where it is exact."""

    arl: float
    standard_error: float


def rule_set_arl(rules: tuple[Rule, ...], *, rng: np.random.Generator) -> ArlEstimate:
    """Jobs to a false signal of any rule set in control: exact for zone rules, else simulated."""
    if all(isinstance(rule, ZoneRule) for rule in rules):
        return ArlEstimate(rule_arl(rules), 0.0)
    return simulated_arl(rules, rng=rng)


def simulated_arl(
    rules: tuple[Rule, ...],
    *,
    rng: np.random.Generator,
    shift: float = 0.0,
    runs: int = 20_000,
    longest: int = 100_000,
) -> ArlEstimate:
    """Jobs until the first rule of the set fires, centre and sigma known.

    shift: how far the mean has moved, in sigma. Raises BadInput without rules, or when a chart has
    not signalled after `longest` jobs: such a set is too quiet to be simulated.
    """
    shift = require_number(shift, what="The shift")
    if not rules or runs < 2:
        raise BadInput(why="A simulation needs at least one rule and two runs.")
    length = np.zeros(runs)
    alive = np.arange(runs)
    # A rule sees only this many points back, so each block starts from the end of the last.
    tail = points_needed(rules) - 1
    z = np.empty((runs, 0))
    for done in range(0, longest, _BLOCK):
        fresh = rng.standard_normal((alive.size, _BLOCK)) + shift
        z = np.concatenate([z[:, z.shape[1] - min(tail, z.shape[1]) :], fresh], axis=1)
        fired = np.zeros(fresh.shape, dtype=np.bool_)
        for rule in rules:
            fired |= rule.fires(z)[:, -_BLOCK:]
        ended = fired.any(axis=1)
        length[alive[ended]] = done + 1 + fired[ended].argmax(axis=1)
        alive, z = alive[~ended], z[~ended]
        if alive.size == 0:
            error = float(length.std(ddof=1)) / math.sqrt(runs)
            return ArlEstimate(float(length.mean()), error)
    raise BadInput(why=f"No signal in {longest} jobs: these rules are too quiet to be simulated.")
