"""Exact run length of any set of rules, for independent normal readings that do not tie.

Zone rules alone are a finite chain. Rules on rising or alternating points make it a chain over
what all rules remember and the last reading, at Gauss-Legendre nodes inside each zone. Chances are
smooth in the reading there: four nodes give a mean run length to 1e-5 where one zone holds every
reading, and to 1e-10 for the sets in use; three would miss 1e-4.

Continuous readings never tie. Readings rounded to a gauge's step do: equal neighbours neither rise,
fall nor alternate, and one on an edge lies in neither zone, so that signals come more rarely than
told here. In steps of 0.1 sigma Nelson's set runs 8 to 30 % longer, as the centre lies between two
steps or on one (simulated in tests/numerics/test_rule_set_run_length.py).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy import sparse
from scipy.special import ndtr, ndtri

from qc.numerics.patterns import Rule, points_needed
from qc.numerics.results import FloatArray
from qc.numerics.run_length.automaton import SIGNAL
from qc.numerics.run_length.chain import Chain
from qc.numerics.run_length.distribution import RunLength, of_survival
from qc.numerics.run_length.rule_memory import RuleMemory, rule_memory
from qc.numerics.run_length.steps import DIRECTIONS, Within
from qc.numerics.series import require_number

NODES = 4


def rule_chain(
    rules: tuple[Rule, ...], *, shift: float = 0.0, settled: bool = False, nodes: int = NODES
) -> Chain:
    """The chain of a set of rules when the mean has moved by `shift` sigma.

    settled: the shift comes after a long time in control without a signal, instead of at the first
    job. nodes: a zone, where the set needs readings. Raises NotFinite, BadInput.
    """
    shift = require_number(shift, what="The shift")
    memory = rule_memory(tuple(rules))
    within = Within.of(nodes if memory.reads_steps else 1)
    if settled:
        start = _carried(_settled(tuple(rules), nodes), memory, within, shift=shift)
    else:
        start = np.zeros((memory.machine.states, within.rank.size))
        start[memory.machine.start, 0] = 1.0
    return Chain(start.ravel(), _moves(memory, within, shift=shift))


def rule_arl(rules: tuple[Rule, ...], *, shift: float = 0.0, settled: bool = False) -> float:
    """Jobs until the first rule of the set fires, centre and sigma known. As `rule_chain`."""
    return rule_chain(rules, shift=shift, settled=settled).arl()


def rule_run_length(
    rules: tuple[Rule, ...], *, shift: float = 0.0, settled: bool = False, nodes: int = NODES
) -> RunLength:
    """The whole distribution, followed job by job: quicker than solving a large set for its mean.
    As `rule_chain`."""
    chain = rule_chain(rules, shift=shift, settled=settled, nodes=nodes)
    return of_survival(chain.survival(), looks_back=points_needed(rules))


def _moves(memory: RuleMemory, within: Within, *, shift: float) -> sparse.csr_array:
    """Chance of going from node to node; the nodes of one state follow one another."""
    chance = np.diff(memory.below(shift))
    anywhere = np.tile(within.share, (within.rank.size, 1))
    moves = sparse.kron(_between(memory, chance, within_zone=None), anywhere, format="csr")
    for direction in DIRECTIONS if memory.reads_steps else ():
        near = _between(memory, chance, within_zone=direction)
        moves = moves + sparse.kron(near, within.stepping(direction), format="csr")
    return moves


def _between(
    memory: RuleMemory, chance: FloatArray, *, within_zone: int | None
) -> sparse.coo_array:
    """Chance of going from state to state, by next points of another zone than the last one's.

    within_zone: a direction, for those of the last one's zone instead, before their rank is known.
    chance: of each zone, shape (zones,).
    """
    machine, parts = memory.machine, []
    for letter, (zone, direction) in enumerate(memory.letters):
        is_near = machine.label == zone
        is_meant = ~is_near if within_zone is None else is_near & (direction == within_zone)
        origin = np.flatnonzero(is_meant & (machine.after[:, letter] != SIGNAL))
        parts.append((origin, machine.after[origin, letter], np.full(origin.size, chance[zone])))
    origins, goals, chances = (np.concatenate(part) for part in zip(*parts, strict=True))
    return sparse.coo_array((chances, (origins, goals)), (machine.states, machine.states))


@lru_cache(maxsize=8)
def _settled(rules: tuple[Rule, ...], nodes: int) -> FloatArray:
    return rule_chain(rules, nodes=nodes).settled()


def _carried(
    settled: FloatArray, memory: RuleMemory, within: Within, *, shift: float
) -> FloatArray:
    """Chances of nodes in control on the nodes after a shift, shape (states, n).

    A reading keeps its place and changes its rank in its zone.
    """
    before, after = memory.below(0.0), memory.below(shift)
    here = settled.reshape(memory.machine.states, within.rank.size)
    if not memory.reads_steps:
        return here
    there = np.zeros(here.shape)
    for zone, size in enumerate(np.diff(after)):
        is_of_zone = memory.machine.label == zone
        reading = ndtri(before[zone] + (before[zone + 1] - before[zone]) * within.rank)
        rank = (ndtr(reading - shift) - after[zone]) / size if size > 0 else within.rank
        there[is_of_zone] = here[is_of_zone] @ within.at(np.clip(rank, 0.0, 1.0))
    return there
