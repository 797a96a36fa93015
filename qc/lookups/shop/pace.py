"""The shop's own pace, by which a false-alarm rate is told in months."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Count, Min, QuerySet

from qc.models import JobResult, ShopPolicy
from qc.numerics.run_length import pace_sentence

LOOK_BACK = timedelta(days=365)
MONTH = timedelta(days=365.25 / 12)


def jobs_per_month(results: QuerySet[JobResult], *, now: datetime) -> float | None:
    """The mean over the last year, or since the first job where that is less; at least a month.

    None where no job falls in that year.
    """
    recent = results.order_by().filter(measured_at__gte=now - LOOK_BACK)
    told = recent.aggregate(jobs=Count("pk"), first=Min("measured_at"))
    if not told["jobs"]:
        return None
    return float(told["jobs"] / max((now - told["first"]) / MONTH, 1.0))


def false_signal_pace(
    policy: ShopPolicy, results: QuerySet[JobResult], *, now: datetime
) -> str | None:
    """How often a chart with the policy's limits signals with nothing wrong, in this shop's time.

    results: every job the chart, or the family of charts, takes in. None without a pace.
    """
    per_month = jobs_per_month(results, now=now)
    if per_month is None:
        return None
    return pace_sentence(
        float(policy.season_jobs) / float(policy.false_flags_per_season), per_month
    )
