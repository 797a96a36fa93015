"""The shop's drift watch, brought up to date, and its flags with it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from qc.lookups.charts.kept_charts import Place, stored
from qc.lookups.watch.kept_drift import DriftKept
from qc.operations import flags
from qc.operations.stored_charts import bring_up, lock, rebuild, save


@transaction.atomic
def follow_drift(*, at: datetime, since: Place | None = None) -> None:
    """Step the watch through every job it does not have yet, and let the flags follow.

    since: a place in the past from which something changed.
    """
    kept = DriftKept()
    [row] = lock([kept])
    if kept.is_current(row.state):
        learnt = bring_up(kept, since=since, chart=row)
        save([row])
    else:
        learnt = rebuild(kept)
    _settle(kept, learnt.state, at=at)


def drift_is_current() -> bool:
    """Whether the watch is kept, and by the sums of today."""
    kept = DriftKept()
    row = stored(kept)
    return row is not None and kept.is_current(row.state)


@transaction.atomic
def rebuild_drift(*, at: datetime) -> None:
    """Step the watch from nothing, and let the flags follow."""
    kept = DriftKept()
    _settle(kept, rebuild(kept).state, at=at)


def _settle(kept: DriftKept, state: dict[str, Any], *, at: datetime) -> None:
    flags.settle(kept.standing(state), watch=kept.watch_of(state), at=at)
