"""What a set of zone rules remembers of the points so far, as a machine fed by their zones.

A rule remembers only which of its last m - 1 points lay in its zone (for a run: how many in
succession), so that a set of zone rules is a finite chain (Champ & Woodall, Technometrics 1987).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from qc.numerics.patterns import ZoneRule
from qc.numerics.results import FloatArray
from qc.numerics.run_length.automaton import Machine, reached, smallest

NOWHERE = -1


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


class _Memory(NamedTuple):
    of_rules: tuple[int, ...]
    zone: int


def zone_cuts(rules: Sequence[ZoneRule]) -> tuple[float, ...]:
    """Where one zone ends and the next begins, in sigma, rising; zone 0 lies below the first."""
    return tuple(sorted({edge for rule in rules for edge in _edges(rule)}))


def zone_machine(rules: Sequence[ZoneRule], *, keeps_zone: bool) -> Machine:
    """The machine of these rules, which may be none; its letters are the zones between cuts.

    keeps_zone: a state's label is the zone of its last point, NOWHERE before the first; else all
    labels are alike.
    """
    cuts = zone_cuts(rules)
    watches = _watches(rules, _middles(cuts))

    def move(memory: _Memory, zone: int) -> _Memory | None:
        told = zip(watches, memory.of_rules, strict=True)
        after = [watch.remember(of_rule, zone) for watch, of_rule in told]
        known = tuple(of_rule for of_rule in after if of_rule is not None)
        if len(known) < len(after):
            return None
        return _Memory(known, zone if keeps_zone else NOWHERE)

    start = _Memory((0,) * len(watches), NOWHERE)
    zones = range(len(cuts) + 1)
    return smallest(reached(start, zones, move=move, label=lambda memory: memory.zone))


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


def _watches(rules: Sequence[ZoneRule], middles: FloatArray) -> list[_Watch]:
    return [
        _Watch(rule.k, rule.m, tuple(inside.tolist()))
        for rule in rules
        for inside in rule.holds(middles)
    ]
