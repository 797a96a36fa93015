"""Run lengths of charts by simulation, many charts at once."""

import math

import numpy as np

RUNS = 100_000


def simulated_runs(signals, *, runs=RUNS, jobs=20_000):
    """Run lengths of `runs` charts; signals(job) gives this job's signal for charts still open."""
    length = np.zeros(runs)
    alive = np.arange(runs)
    for job in range(1, jobs):
        fired = signals(job, alive)
        length[alive[fired]] = job
        alive = alive[~fired]
        if alive.size == 0:
            return length
    raise AssertionError("a run outlasted the simulation")


def agrees(length, arl):
    """Within four standard errors of the simulated mean."""
    return abs(length.mean() - arl) < 4 * length.std() / math.sqrt(length.size)
