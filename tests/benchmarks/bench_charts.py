"""What charts cost: a million jobs at once, and one more job on a long history.

Run from the project's folder: python -m tests.benchmarks.bench_charts [jobs]
First the EWMA, limits and all of Nelson's rules over every job, beside bare NumPy passes over the
same array: mean and standard deviation, and the mean alone. Then one more job by `next_job` after
a history of a thousandth of that, and of all of it.
Seen on two shared cores, NumPy 2.4.6, a million jobs, four runs: ratio 5 to 19 to mean and standard
deviation, whose own time moved between 3 and 8 ms with the load; 117 to 282 to the mean alone; one
more job 0.18 ms after either history, ratio 0.98 to 1.01.
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


def best_of(work: Callable[[], object], *, rounds: int = ROUNDS) -> float:
    """Seconds of the fastest run, the one least disturbed by other work."""
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def main(jobs: int) -> None:
    x = np.random.default_rng(2024).standard_normal(jobs)
    ours = best_of(lambda: rebuild(x, settings=SETTINGS))
    both = best_of(lambda: (x.mean(), x.std()))
    mean = best_of(lambda: x.mean())
    print(f"{jobs} jobs, best of {ROUNDS}: chart and {len(NELSON)} rules {ours * 1e3:.1f} ms")
    print(f"mean and standard deviation {both * 1e3:.2f} ms: ratio {ours / both:.1f}")
    print(f"mean alone {mean * 1e3:.2f} ms: ratio {ours / mean:.1f}")

    each = {}
    for history in (jobs // 1000, jobs):
        state = rebuild(x[:history], settings=SETTINGS).state
        each[history] = best_of(partial(next_job, state, 0.3, settings=SETTINGS), rounds=2000)
        print(f"one more job after {history}: {each[history] * 1e6:.1f} us")
    print(f"long history over short: {each[jobs] / each[jobs // 1000]:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
