"""How sure a gap is: single components, their combination, the budget of a gap, conformity."""

from qc.numerics.uncertainty.budget import Hands, gap_budget
from qc.numerics.uncertainty.components import (
    combine,
    mean_u,
    pooled_sd,
    resolution_u,
    standard_u,
)
from qc.numerics.uncertainty.conformity import (
    acceptance_interval,
    conformance_probability,
    decide,
    guard_band,
)

__all__ = [
    "Hands",
    "acceptance_interval",
    "combine",
    "conformance_probability",
    "decide",
    "gap_budget",
    "guard_band",
    "mean_u",
    "pooled_sd",
    "resolution_u",
    "standard_u",
]
