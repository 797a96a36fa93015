"""What a whole run of decisions gets wrong: bad cylinders let through, good ones turned away.

JCGM 106:2012 clause 9. Unlike the probability for one reading, these need what the shop makes: its
mean and spread, as if every reading were decided by the same acceptance limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.special import ndtr

from qc.numerics.capability.indices import require_limits
from qc.numerics.results import FloatArray
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number

_FAR = 9.0  # standard deviations beyond which nothing lies


@dataclass(frozen=True)
class DecisionRisk:
    """Shares of all jobs. conforming: truly inside. consumer: truly outside yet accepted.
    producer: truly inside yet not accepted."""

    conforming: float
    consumer: float
    producer: float


def decision_risk(
    *,
    process_mean: float,
    process_sd: float,
    u: float,
    lower: float | None = None,
    upper: float | None = None,
    accept_lower: float | None = None,
    accept_upper: float | None = None,
) -> DecisionRisk:
    """All in one unit. process_sd > 0: of true values. u > 0: standard uncertainty of a reading.

    lower, upper: the limits that count; accept_lower, accept_upper: those the reading is held
    against, None for none. True values and reading errors normal and independent.
    Absolute error under 1e-9. Raises NotFinite, BadInput.
    """
    mean = require_number(process_mean, what="The process mean")
    sd = require_number(process_sd, what="The process spread", above=0)
    noise = require_number(u, what="The uncertainty", above=0) / sd
    require_limits(lower, upper)
    require_limits(accept_lower, accept_upper)
    low, high, take_low, take_high = (
        fallback if limit is None else (limit - mean) / sd
        for limit, fallback in (
            (lower, -math.inf),
            (upper, math.inf),
            (accept_lower, -math.inf),
            (accept_upper, math.inf),
        )
    )
    true, weight = _panels([low, high], [take_low, take_high], noise)
    accepted = ndtr((take_high - true) / noise) - ndtr((take_low - true) / noise)
    inside = (true > low) & (true < high)
    return DecisionRisk(
        conforming=float(ndtr(high) - ndtr(low)),
        consumer=float(weight[~inside] @ accepted[~inside]),
        producer=float(weight[inside] @ (1 - accepted[inside])),
    )


def _panels(
    limits: list[float], accept: list[float], noise: float
) -> tuple[FloatArray, FloatArray]:
    """Nodes over the true value and their weights under N(0, 1), with an edge at every limit and
    panels narrow where acceptance falls from sure to none."""
    steps = noise * np.array([-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0])
    edges = np.concatenate([np.linspace(-_FAR, _FAR, 37), limits, *(a + steps for a in accept)])
    edges = np.unique(edges[np.abs(edges) <= _FAR])
    rules = [gauss(a, b, 16) for a, b in pairwise(edges.tolist())]
    node = np.concatenate([rule[0] for rule in rules])
    weight = np.concatenate([rule[1] for rule in rules])
    return node, weight * np.exp(-(node**2) / 2) / math.sqrt(2 * math.pi)
