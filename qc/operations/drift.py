"""The shop's drift watch, brought up to date."""

from __future__ import annotations

from typing import Any

from qc.lookups.kept_charts import Place
from qc.lookups.kept_drift import DriftKept
from qc.operations.stored_charts import bring_up, lock, rebuild, save


def follow_drift(*, since: Place | None = None) -> dict[str, Any]:
    """Step the watch through every job it does not have yet; its state after the newest.

    since: a place in the past from which something changed.
    """
    kept = DriftKept()
    [row] = lock([kept])
    if not kept.is_current(row.state):
        return rebuild(kept).state
    learnt = bring_up(kept, since=since, chart=row)
    save([row])
    return learnt.state
