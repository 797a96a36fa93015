"""What charts cost: a million jobs at once, and one more job on a long history.

Run from the project's folder: python -m tests.benchmarks.bench_charts [jobs]
First the EWMA, limits and all of Nelson's rules over every job, beside bare NumPy passes over the
same array: mean and standard deviation, and the mean alone. Then one more job by `next_job` after
a history of a thousandth of that, and of all of it. Processor time of this process: by the clock a
busy machine interrupts the longer of two, and the ratio would tell of the others' work.
Seen on two shared cores under a load of 5, NumPy 2.4.6, a million jobs, six runs: 11.5 to 12.3 ms,
ratio 16 to 18 to mean and standard deviation (0.65 to 0.72 ms), 78 to 84 to the mean alone; one
more job 0.09 ms after either history, ratio 0.99 to 1.02.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial

import numpy as np

from qc.numerics.charts import RunningSettings, next_job, rebuild
from qc.numerics.patterns import NELSON

ROUNDS = 9
SETTINGS = RunningSettings(centre=0.0, sigma=1.0, weight=0.2, width=2.962, rules=NELSON)


def best_of(
    work: Callable[[], object],
    *,
    rounds: int = ROUNDS,
    clock: Callable[[], float] = time.perf_counter,
) -> float:
    """Seconds of the fastest run, the one least disturbed by other work."""
    taken = []
    for _ in range(rounds):
        start = clock()
        work()
        taken.append(clock() - start)
    return min(taken)


processor_time = partial(best_of, clock=time.process_time)


def main(jobs: int) -> None:
    x = np.random.default_rng(2024).standard_normal(jobs)
    ours = processor_time(lambda: rebuild(x, settings=SETTINGS))
    both = processor_time(lambda: (x.mean(), x.std()))
    mean = processor_time(lambda: x.mean())
    print(f"{jobs} jobs, best of {ROUNDS}: chart and {len(NELSON)} rules {ours * 1e3:.1f} ms")
    print(f"mean and standard deviation {both * 1e3:.2f} ms: ratio {ours / both:.1f}")
    print(f"mean alone {mean * 1e3:.2f} ms: ratio {ours / mean:.1f}")

    each = {}
    for history in (jobs // 1000, jobs):
        state = rebuild(x[:history], settings=SETTINGS).state
        each[history] = processor_time(
            partial(next_job, state, 0.3, settings=SETTINGS), rounds=2000
        )
        print(f"one more job after {history}: {each[history] * 1e6:.1f} us")
    print(f"long history over short: {each[jobs] / each[jobs // 1000]:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
