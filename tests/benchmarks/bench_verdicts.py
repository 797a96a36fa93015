"""How much the plane fit and verdict of a million jobs cost beside a bare least-squares fit.

Run from the project's folder: python -m tests.benchmarks.bench_verdicts [jobs]
Two floors, measured in the same run on the same readings: NumPy's least-squares routine, and the
harder one of a single matrix product with a pseudo-inverse worked out beforehand.
Seen on two shared cores, NumPy 2.4.6, a million jobs, seven runs: ratio 0.08 to 0.22 to the
routine, 2.0 to 6.5 to the product, whose own time moved between 7 and 49 ms with the load.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np

from qc.numerics.verdict import judge_many

POSITION_DEG = np.array([0.0, 90.0, 180.0, 270.0])
ROUNDS = 9


def best_of(work: Callable[[], object]) -> float:
    """Seconds of the fastest of ROUNDS runs, the one least disturbed by other work."""
    taken = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def main(jobs: int) -> None:
    rng = np.random.default_rng(2024)
    gaps = 0.52 + 0.03 * rng.standard_normal((jobs, 4))
    phi = np.radians(POSITION_DEG)
    design = np.column_stack([np.ones(4), np.cos(phi), np.sin(phi)])
    solver = np.linalg.pinv(design)
    ours = best_of(
        lambda: judge_many(
            gaps,
            position_deg=POSITION_DEG,
            guard_height_mm=0.008,
            guard_tightest_mm=0.010,
            guard_evenness_mm=0.012,
            target_mm=0.50,
            tol_minus_mm=0.03,
            tol_plus_mm=0.03,
            floor_mm=0.42,
            evenness_limit_mm=0.060,
            smallest_chip_mm=0.010,
        )
    )
    routine = best_of(lambda: np.linalg.lstsq(design, gaps.T, rcond=None))
    product = best_of(lambda: solver @ gaps.T)
    print(f"{jobs} jobs, best of {ROUNDS}: fit and verdict {ours * 1e3:.1f} ms")
    print(f"numpy.linalg.lstsq alone {routine * 1e3:.1f} ms: ratio {ours / routine:.2f}")
    print(f"one matrix product alone {product * 1e3:.1f} ms: ratio {ours / product:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
