"""Run lengths of charts by simulation, many charts at once."""

import math

import numpy as np

from qc.numerics.patterns import points_needed

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


def simulated_rules(rules, *, rng, shift=0.0, step=None, offset=0.0, runs=RUNS, block=64):
    """Run lengths of a rule set, centre and sigma known, one long sequence a run.

    step: readings are rounded to a gauge's step of this many sigma, whose marks lie `offset` sigma
    beside the centre.
    """
    length, alive = np.zeros(runs), np.arange(runs)
    # A rule sees only this many points back, so each block starts from the end of the last.
    tail = points_needed(rules) - 1
    z = np.empty((runs, 0))
    for done in range(0, 100_000, block):
        fresh = rng.standard_normal((alive.size, block)) + shift
        if step is not None:
            # Whole steps first: equal readings must be equal, and marks on an edge on the edge.
            fresh = np.round(np.round((fresh - offset) / step) * step + offset, 9)
        z = np.concatenate([z[:, z.shape[1] - min(tail, z.shape[1]) :], fresh], axis=1)
        fired = np.zeros(fresh.shape, dtype=np.bool_)
        for rule in rules:
            fired |= rule.fires(z)[:, -block:]
        ended = fired.any(axis=1)
        length[alive[ended]] = done + 1 + fired[ended].argmax(axis=1)
        alive, z = alive[~ended], z[~ended]
        if alive.size == 0:
            return length
    raise AssertionError("a run outlasted the simulation")
