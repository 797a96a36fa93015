"""The shop's drift watch as it stands now, what was done since its newest job counted in."""

from __future__ import annotations

from qc.lookups.charts.kept_charts import stored
from qc.lookups.shop.policy import shop_policy
from qc.lookups.watch.done import done_after
from qc.lookups.watch.drift_pace import budget_at
from qc.lookups.watch.kept_drift import DriftKept
from qc.numerics.drift import Watch, jobs


def watch_now() -> Watch | None:
    """None before the first job, and while the watch is being stepped again by other sums."""
    kept = DriftKept()
    row = stored(kept)
    if row is None or row.at is None or not kept.is_current(row.state):
        return None
    watch = kept.watch_of(row.state)
    watch.budget = budget_at(row.state["pace"], shop_policy())
    done = done_after(row.at)
    if done:
        watch.take(jobs(0), events=[one.before(0) for one in done])
    return watch
