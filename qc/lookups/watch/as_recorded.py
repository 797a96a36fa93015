"""How much of a job this shop mostly reads, by its newest ones."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from qc.lookups.record.channels import measured_rounds
from qc.lookups.watch.own_jobs import as_jobs
from qc.models import DriftChannel
from qc.numerics.drift import Jobs
from qc.numerics.drift.separating import FULLY_READ

NEWEST = 20
FULL = {
    DriftChannel.TILT: "at four positions, as found too",
    DriftChannel.SPREAD: "with three pieces at each of four positions",
}


@dataclass(frozen=True)
class AsRecorded:
    """read: one job with what is read of it. words: of that, where the channel has more than one
    way to be read. is_full: nothing more can be read."""

    read: Jobs
    words: str
    is_full: bool


def fully(channel: DriftChannel) -> AsRecorded:
    return AsRecorded(FULLY_READ, FULL.get(channel, ""), True)


def as_recorded(channel: DriftChannel) -> AsRecorded:
    """As most of the newest jobs were read; fully where there are none, and a height always."""
    jobs = as_jobs(measured_rounds(), count=NEWEST)
    if channel == DriftChannel.HEIGHT or not len(jobs):
        return fully(channel)
    ways = [_way(jobs, row, channel) for row in range(len(jobs))]
    usual = Counter(ways).most_common(1)[0][0]
    row = len(ways) - 1 - ways[::-1].index(usual)
    read = jobs.of(slice(row, row + 1))
    if channel == DriftChannel.SPREAD:
        df = int(read.spread_df[0])
        return AsRecorded(read, "", df >= int(FULLY_READ.spread_df[0]))
    found, achieved = (_positions(one) for one in (read.tilt_found_mm, read.tilt_achieved_mm))
    is_full = found == achieved == 2
    if is_full:
        return fully(channel)
    as_found = "without as-found readings" if found == 0 else "as found too"
    return AsRecorded(read, f"{POSITIONS[achieved]}, {as_found}", False)


# By how many components of the tilt they give.
POSITIONS = ("at one position", "at two positions", "at four positions")


def _positions(tilt: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> int:
    return int(np.isfinite(tilt).sum())


def _way(jobs: Jobs, row: int, channel: DriftChannel) -> tuple[float, ...]:
    """The same for two jobs that were read alike; -1 for an axis that is none."""
    if channel == DriftChannel.SPREAD:
        return (float(jobs.spread_df[row]),)
    axes = np.nan_to_num([jobs.found_axis_deg[row], jobs.achieved_axis_deg[row]], nan=-1.0)
    parts = (_positions(jobs.tilt_found_mm[row]), _positions(jobs.tilt_achieved_mm[row]))
    return (*parts, *axes.tolist())
