"""What a steady shop can promise: indices with intervals, tolerance intervals, share out of limits.

Cp and Cpk rest on the short-term sigma, Pp and Ppk on the overall one; the formulas are the same.
"""

from qc.numerics.capability.indices import (
    CapabilityIndices,
    Interval,
    capability_indices,
    cp_interval,
    cpk_interval,
    cpk_lower_bound,
    cpk_lower_bound_exact,
    cpm_interval,
)
from qc.numerics.capability.normality import Normality, normality
from qc.numerics.capability.report import (
    Capability,
    NotSteady,
    capability,
    unsteady_jobs,
)
from qc.numerics.capability.risk import DecisionRisk, decision_risk
from qc.numerics.capability.share import OutOfTolerance, share_out_of_tolerance
from qc.numerics.capability.tolerance import (
    ToleranceInterval,
    howe_factor,
    one_sided_factor,
    tolerance_interval,
    two_sided_factor,
)

__all__ = [
    "Capability",
    "CapabilityIndices",
    "DecisionRisk",
    "Interval",
    "Normality",
    "NotSteady",
    "OutOfTolerance",
    "ToleranceInterval",
    "capability",
    "capability_indices",
    "cp_interval",
    "cpk_interval",
    "cpk_lower_bound",
    "cpk_lower_bound_exact",
    "cpm_interval",
    "decision_risk",
    "howe_factor",
    "normality",
    "one_sided_factor",
    "share_out_of_tolerance",
    "tolerance_interval",
    "two_sided_factor",
    "unsteady_jobs",
]
