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
    """Whether the simulated mean is within four standard errors of the run length worked out."""
    mean, error = length.mean(), length.std() / math.sqrt(length.size)
    print(f"{length.size} runs: {mean:.3f}, Monte Carlo error {error:.3f}, worked out {arl:.3f}")
    return abs(mean - arl) < 4 * error
