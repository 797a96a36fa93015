"""What a whole set of rules remembers of the points so far, as one machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
from scipy.special import ndtr

from qc.errors import BadInput
from qc.numerics.patterns import AlternatingRule, Rule, TrendRule, ZoneRule
from qc.numerics.results import FloatArray
from qc.numerics.run_length.automaton import SIGNAL, Machine, reached, smallest
from qc.numerics.run_length.steps import DIRECTIONS, RISE, step_machine
from qc.numerics.run_length.zones import NOWHERE, zone_cuts, zone_machine


@dataclass(frozen=True, eq=False)
class RuleMemory:
    """cuts: where one zone ends and the next begins, in sigma. machine: its labels are the zones of
    the last points where a rule reads steps, else NOWHERE. letters: what it is fed, a point's zone
    and its direction from the last point; None for both where no rule reads steps."""

    cuts: tuple[float, ...]
    machine: Machine
    letters: tuple[tuple[int, int | None], ...]

    @property
    def reads_steps(self) -> bool:
        return self.letters[0][1] is not None

    def below(self, shift: float) -> FloatArray:
        """Chance of a reading below each zone's edges when the mean has moved by `shift` sigma,
        shape (zones + 1,)."""
        return np.asarray(ndtr(np.array([-math.inf, *self.cuts, math.inf]) - shift))


@lru_cache(maxsize=64)
def rule_memory(rules: tuple[Rule, ...]) -> RuleMemory:
    """The memory of these rules, in as few states as tell the signals to come. Raises BadInput
    without rules."""
    if not rules:
        raise BadInput(why="A run length needs at least one rule.")
    of_zones = [rule for rule in rules if isinstance(rule, ZoneRule)]
    of_steps = [rule for rule in rules if isinstance(rule, TrendRule | AlternatingRule)]
    zones = zone_machine(of_zones, keeps_zone=bool(of_steps))
    cuts = zone_cuts(of_zones)
    if not of_steps:
        return RuleMemory(cuts, zones, tuple((zone, None) for zone in range(len(cuts) + 1)))
    letters = tuple(product(range(len(cuts) + 1), DIRECTIONS))
    return RuleMemory(cuts, _joined(zones, step_machine(of_steps), letters=letters), letters)


def _joined(zones: Machine, steps: Machine, *, letters: Sequence[tuple[int, int]]) -> Machine:
    """Both at once. A step that the zones of its two points forbid is put down as a signal, which
    it never gives; so is a fall before the first point, NOWHERE being below all zones."""

    def move(state: tuple[int, int], letter: tuple[int, int]) -> tuple[int, int] | None:
        (zone_state, step_state), (zone, direction) = state, letter
        last = zones.label[zone_state]
        if zone < last if direction == RISE else zone > last:
            return None
        zone_after = int(zones.after[zone_state, zone])
        step_after = steps.start if last == NOWHERE else int(steps.after[step_state, direction])
        return None if SIGNAL in (zone_after, step_after) else (zone_after, step_after)

    def label(state: tuple[int, int]) -> int:
        return int(zones.label[state[0]])

    return smallest(reached((zones.start, steps.start), letters, move=move, label=label))
