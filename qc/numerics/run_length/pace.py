"""Run lengths in a shop's own time."""

from __future__ import annotations

from qc.numerics.series import require_number


def pace_sentence(arl_jobs: float, jobs_per_month: float) -> str:
    """How often one signal in arl_jobs jobs comes at this pace: "about once in 14 months".

    arl_jobs >= 1; jobs_per_month > 0, the shop's recent mean.
    """
    arl_jobs = require_number(arl_jobs, what="The run length", above=0)
    per_month = require_number(jobs_per_month, what="Jobs a month", above=0)
    months = arl_jobs / per_month
    if months < 2 / 3:
        return f"about {round(1 / months)} times a month at this pace"
    if months < 1.5:
        return "about once a month at this pace"
    if months < 23.5:
        return f"about once in {round(months)} months at this pace"
    return f"about once in {round(months / 12)} years at this pace"
