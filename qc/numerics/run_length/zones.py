"""Exact run length of limits with any set of zone rules, by the chain of what the rules remember.

A rule remembers only which of its last m - 1 points lay in its zone (for a run: how many in
succession), so that a set of zone rules is a finite chain (Champ & Woodall, Technometrics 1987).
Rules on rising or alternating points need the readings themselves: see `simulated`.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.special import ndtr

from qc.errors import BadInput
from qc.numerics.patterns import Rule, ZoneRule
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.run_length.chain import Chain, arl_after_settling
from qc.numerics.series import require_number


class _Watch(NamedTuple):
    """One rule on one side. Its memory is a run length, or the last m - 1 memberships as bits."""

    k: int
    m: int
    inside: tuple[bool, ...]  # one entry a zone between cuts

    def remember(self, memory: int, zone: int) -> int | None:
        """Memory after a point in `zone`; None is a signal."""
        here = self.inside[zone]
        if self.k == self.m:
            run = memory + 1 if here else 0
            return run if run < self.k else None
        if here and memory.bit_count() + 1 >= self.k:
            return None
        return (memory << 1 | here) & ((1 << (self.m - 1)) - 1)


class _Structure(NamedTuple):
    cuts: tuple[float, ...]
    states: int
    origin: IntArray
    goal: IntArray
    zone: IntArray


def rule_chain(rules: tuple[Rule, ...], *, shift: float = 0.0) -> Chain:
    """The chain of a set of zone rules when the mean has moved by `shift` sigma.

    Raises BadInput for a set with a rule on rising or alternating points.
    """
    shift = require_number(shift, what="The shift")
    structure = _structure(tuple(rules))
    below = ndtr(np.array([-math.inf, *structure.cuts, math.inf]) - shift)
    chance = np.diff(below)[structure.zone]
    shape = (structure.states, structure.states)
    moves = sparse.coo_array((chance, (structure.origin, structure.goal)), shape).tocsr()
    start = np.zeros(structure.states)
    start[0] = 1.0
    return Chain(start, moves)


def rule_arl(rules: tuple[Rule, ...], *, shift: float = 0.0, settled: bool = False) -> float:
    """Jobs until the first rule of the set fires, centre and sigma known.

    shift: how far the mean has moved, in sigma. settled: the shift comes after a long time in
    control without a signal, instead of at the first job.
    """
    shifted = rule_chain(rules, shift=shift)
    return arl_after_settling(rule_chain(rules), shifted) if settled else shifted.arl()


@lru_cache(maxsize=64)
def _structure(rules: tuple[Rule, ...]) -> _Structure:
    """Every state the rules can reach without a signal, and the zones that lead between them."""
    zones_only = [rule for rule in rules if isinstance(rule, ZoneRule)]
    if len(zones_only) < len(rules) or not rules:
        raise BadInput(
            why="An exact run length needs a set of zone rules alone; simulate the others."
        )
    cuts = tuple(sorted({edge for rule in zones_only for edge in _edges(rule)}))
    watches = _watches(zones_only, _middles(cuts))
    number = {(0,) * len(watches): 0}
    moves: list[tuple[int, int, int]] = []
    queue = list(number)
    for state in queue:
        for zone in range(len(cuts) + 1):
            memories = [w.remember(m, zone) for w, m in zip(watches, state, strict=True)]
            after = tuple(memory for memory in memories if memory is not None)
            if len(after) < len(watches):
                continue
            if after not in number:
                number[after] = len(number)
                queue.append(after)
            moves.append((number[state], number[after], zone))
    origin, goal, zone_of = np.array(moves, dtype=np.int64).reshape(-1, 3).T
    return _Structure(cuts, len(number), origin, goal, zone_of)


def _edges(rule: ZoneRule) -> list[float]:
    return [
        sign * edge for edge in (rule.low, rule.high) for sign in (-1, 1) if 0 <= edge < math.inf
    ]


def _middles(cuts: tuple[float, ...]) -> FloatArray:
    """One point inside each zone."""
    if not cuts:
        return np.zeros(1)
    edges = np.array([cuts[0] - 2, *cuts, cuts[-1] + 2])
    return np.asarray((edges[1:] + edges[:-1]) / 2)


def _watches(rules: list[ZoneRule], middles: FloatArray) -> list[_Watch]:
    return [
        _Watch(rule.k, rule.m, tuple(inside.tolist()))
        for rule in rules
        for inside in rule.holds(middles)
    ]
