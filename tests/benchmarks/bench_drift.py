"""What one more job costs the drift watch, all channels, and what a whole replay costs.

    python -m tests.benchmarks.bench_drift [--replay]

With numba installed the sums are compiled; SQUISH_DRIFT_COMPILED=0 runs them as they stand. The
bare loop beside it is the joint filter's update alone (the tilt channel's four readings a job, no
hypotheses, no error mixture), over as many states, in plain NumPy or compiled alike.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import time
from dataclasses import fields

import numpy as np

from qc.numerics.drift import Budget, Jobs, Watch
from qc.numerics.drift.jit import IS_COMPILED, compiled
from qc.numerics.drift.state import trimmed
from tests.drift.shop import season

PORTION = 20_000


@compiled
def bare_filter(x, p, rows, y, var):
    for one in range(y.size):
        at = rows[one % rows.shape[0]]
        along = p[at[0]] + p[at[1]] + p[at[2]] + p[at[3]]
        spread = along[at[0]] + along[at[1]] + along[at[2]] + along[at[3]] + var
        gain = along / spread
        x += gain * (y[one] - x[at[0]] - x[at[1]] - x[at[2]] - x[at[3]])
        p -= np.outer(gain, along)
    return x


def bare_us_a_job(states: int, n: int) -> float:
    rng = np.random.default_rng(1)
    rows = rng.integers(0, states, (64, 4))
    y = rng.normal(0, 0.02, 4 * n)
    bare_filter(np.zeros(states), np.eye(states), rows, y[:8], 1e-4)
    start = time.process_time()
    bare_filter(np.zeros(states), np.eye(states), rows, y, 1e-4)
    return (time.process_time() - start) / n * 1e6


def us_a_job(told: Jobs, watch: Watch) -> float:
    start = time.process_time()
    watch.take(told)
    return (time.process_time() - start) / len(told) * 1e6


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--replay", action="store_true", help="a million jobs in one process too")
    asked.add_argument("--only-state", action="store_true", help="print what a season teaches")
    wants = asked.parse_args()
    if wants.only_state:
        print(*taught())
        return
    print("compiled with numba" if IS_COMPILED else "plain NumPy: numba is not installed")
    long = 100_000 if IS_COMPILED else 5_000
    told = season(5, n=long).jobs
    watched = Watch(budget=Budget(), on_flag="check")
    watched.take(season(5, n=300).jobs)  # so that compiling is not counted
    for n in (1_000, long):
        fresh = Watch(budget=Budget(), on_flag="check")
        each = us_a_job(_first(told, n), fresh)
        states = int(fresh.channels["tilt"].state.counts[0])
        bare = bare_us_a_job(states, min(n, 20_000))
        print(f"{n:>9,} jobs: {each:.1f} us a job, {each / bare:.0f} times the bare {bare:.1f}")
    if IS_COMPILED:
        print(f"furthest from plain NumPy after 300 jobs: {furthest_from_plain():.1e} of the value")
    if wants.replay:
        fresh = Watch(budget=Budget(), on_flag="check")
        start = time.process_time()
        for _ in range(1_000_000 // PORTION):
            fresh.take(_first(told, PORTION))
        took = time.process_time() - start
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"1,000,000 jobs replayed in {took:.0f} s, at most {most:.0f} MB")


def taught() -> list[float]:
    """What all channels believe after a season: biases, variances and evidence."""
    watch = Watch(budget=Budget(), on_flag="check")
    watch.take(season(5, n=300).jobs)
    found = []
    for channel in watch.channels.values():
        state = trimmed(channel.state)
        found += [*state.x, *np.diag(state.p), *state.evidence]
    return [float(one) for one in found]


def furthest_from_plain() -> float:
    """The largest difference between this and the sums as they stand, relative to 1e-6 or more."""
    plain = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.bench_drift", "--only-state"],
        env={**os.environ, "SQUISH_DRIFT_COMPILED": "0"},
        capture_output=True,
        check=True,
        text=True,
    )
    other = np.array(plain.stdout.split(), dtype=float)
    mine = np.array(taught())
    return float((np.abs(mine - other) / np.maximum(np.abs(other), 1e-6)).max())


def _first(told: Jobs, n: int) -> Jobs:
    return Jobs(**{one.name: getattr(told, one.name)[:n] for one in fields(Jobs)})


if __name__ == "__main__":
    main()
