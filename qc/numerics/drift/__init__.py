"""Which fixture, edge, lathe, gauge or pair of hands has moved, how sure, and since when."""

from qc.numerics.drift.jobs import Event, Jobs, jobs
from qc.numerics.drift.suspects import Move, Suspect
from qc.numerics.drift.thresholds import Budget
from qc.numerics.drift.watch import Flag, Watch, watch_jobs

__all__ = ["Budget", "Event", "Flag", "Jobs", "Move", "Suspect", "Watch", "jobs", "watch_jobs"]
