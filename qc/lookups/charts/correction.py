"""The dial correction the shop's own history suggests for one lathe and edge.

Height errors of jobs on the same edge count, in cutting order; an edge change or a service of the
lathe starts anew. A suggestion is shown, never applied by itself.
"""

from __future__ import annotations

from qc.lookups.charts.fixture_chart import stretch_starts
from qc.lookups.record.channels import job_points, measured_rounds
from qc.models import ServiceEvent, ShopPolicy, ToolEdge
from qc.numerics.correction import DialCorrection, suggested_correction
from qc.numerics.correction_policy import CorrectionPolicy

__all__ = ["DialCorrection", "correction_for", "correction_policy"]


def correction_policy(policy: ShopPolicy) -> CorrectionPolicy:
    return CorrectionPolicy(
        dead_band_mm=float(policy.correction_dead_band_mm),
        most_mm=float(policy.correction_most_mm),
        step_mm=float(policy.correction_step_mm),
        fewest_jobs=policy.correction_fewest_jobs,
    )


def correction_for(edge: ToolEdge, *, policy: ShopPolicy) -> DialCorrection:
    """What to add to the planned depth on this edge; positive is deeper, zero for nothing."""
    own = measured_rounds().filter(round__edge=edge, height_error_mm__isnull=False)
    points = job_points(own)
    serviced = ServiceEvent.objects.filter(edge=edge) | ServiceEvent.objects.filter(
        lathe=edge.lathe_id
    )
    restarts = sorted(serviced.values_list("at", flat=True))
    last = points[-1].at if points else None
    return suggested_correction(
        [one.height_error_mm or 0.0 for one in points],
        policy=correction_policy(policy),
        stretch_start=stretch_starts(points, restarts),
        next_is_fresh=any(last is not None and at > last for at in restarts),
    )
