"""What one more job costs the stored charts after a long history, beside a short one.

Run from the project's folder: python -m tests.benchmarks.bench_learning [jobs] [stored]
First the chart alone: one more reading on the state that `jobs` readings left, and a thousandth of
them. Then the whole of learning a job, every query included, in SQLite: after `stored` jobs, which
are copied straight into the tables and learnt once, and after a hundredth of them. Making the job
is left out. A million stored jobs take hours to learn the first time, so the default is 20 000.
Seen on two idle cores, NumPy 2.4.6: the chart alone 0.11 ms after a thousand jobs and after a
million, ratio 1.00; the whole 27 ms after 200 stored jobs and 28 ms after 20 000, ratio 1.02.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from functools import partial

import django

os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.test"
django.setup()

import numpy as np  # noqa: E402
from django.test.utils import setup_databases  # noqa: E402

from qc.numerics.charts import RunningSettings, rebuild  # noqa: E402
from qc.numerics.charts.kept import (  # noqa: E402
    Judging,
    Sums,
    SumsState,
    frozen_chart,
    next_kept,
)
from qc.numerics.patterns import NELSON  # noqa: E402
from qc.operations import learning  # noqa: E402
from tests.benchmarks.bench_charts import best_of  # noqa: E402
from tests.copied import copy_job  # noqa: E402
from tests.cutting import cut_job  # noqa: E402
from tests.make import NOON, Shop, make_shop  # noqa: E402

JUDGING = Judging(weight=0.2, width=2.9, rules=NELSON, sums=Sums(0.5, 5.0, 2.5))
MORE = 60


def chart_alone(jobs: int) -> None:
    """The long history is judged at once, which leaves the state that job by job would."""
    x = 0.01 * np.random.default_rng(2024).standard_normal(jobs)
    settings = RunningSettings(0.0, 0.01, JUDGING.weight, JUDGING.width, JUDGING.rules)
    each = {}
    for history in (jobs // 1000, jobs):
        running = rebuild(x[:history], settings=settings).state
        frozen = frozen_chart(0.0, 0.01, jobs=40, pairs=39)
        state = replace(frozen, running=running, sums=SumsState(0.4, 0.0, 2))
        more = partial(next_kept, state, 0.003, begins=False, judging=JUDGING)
        each[history] = best_of(more, rounds=2000)
        print(f"chart alone, one more job after {history}: {each[history] * 1e6:.0f} us")
    print(f"long history over short: {each[jobs] / each[jobs // 1000]:.2f}")


def fill(shop: Shop, jobs: int, rng: np.random.Generator) -> None:
    """Measured jobs an hour apart before NOON, all like one that was really cut."""
    rounds = copy_job(
        cut_job(shop, "like", learn=False),
        at=[NOON - timedelta(hours=jobs - n) for n in range(jobs)],
        target_error_mm=(errors := rng.normal(0, 0.004, jobs).tolist()),
        height_error_mm=errors,
        tilt_cos_mm=rng.normal(0, 0.008, jobs).tolist(),
        tilt_sin_mm=rng.normal(0, 0.008, jobs).tolist(),
    )
    learning.learn(round_ids=[rounds[-1].pk], at=NOON)


def learning_one_more(shop: Shop) -> float:
    """Seconds of the median of MORE jobs learnt one by one."""
    taken = []
    for n in range(MORE):
        at = NOON + timedelta(hours=n)
        job = cut_job(shop, f"more {at}", at=at, height=0.5 + 0.001 * (n % 5 - 2), learn=False)
        round_id = job.rounds.get().pk
        start = time.perf_counter()
        learning.learn(round_ids=[round_id], at=at)
        taken.append(time.perf_counter() - start)
    return float(np.median(taken))


@contextmanager
def filled(jobs: int) -> Iterator[Shop]:
    """A shop with so many learnt jobs in a database of its own."""
    names = setup_databases(verbosity=0, interactive=False)
    shop = make_shop()
    start = time.perf_counter()
    fill(shop, jobs, np.random.default_rng(1))
    print(f"{jobs} jobs copied and learnt at once in {time.perf_counter() - start:.0f} s")
    yield shop
    for connection, _, _ in names:
        connection.close()


def after(jobs: int) -> float:
    with filled(jobs) as shop:
        each = learning_one_more(shop)
    print(f"whole learning, one more job after {jobs}: {each * 1e3:.1f} ms")
    return each


def main(jobs: int, stored: int) -> None:
    chart_alone(jobs)
    short = after(stored // 100)
    print(f"long history over short: {after(stored) / short:.2f}")


if __name__ == "__main__":
    asked = [int(one) for one in sys.argv[1:]]
    main(*[*asked, *(1_000_000, 20_000)[len(asked) :]])
