"""Whether misses come as often as they are said to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from qc.numerics.drift import Budget, Watch
from qc.numerics.drift.miss import EVENNESS_LIMIT_MM, NextJob, evenness_miss
from qc.numerics.results import FloatArray
from tests.drift import shop
from tests.drift.conditions import drawn_with
from tests.drift.shop import Change, season
from tests.drift.shops import events_within, some_jobs

# Half the shops keep still; in the others one of these happens, each as often.
HAPPENS = (
    Change("fixture", 0.010),
    Change("fixture", 0.020),
    Change("fixture", 0.040),
    Change("fixture", 0.001, is_ramp=True),
    Change("operator_tilt", 0.020),
)
JOBS, SETTLED, ASKED_EVERY = 360, 60, 4
EDGES = np.array([0.0, 0.01, 0.02, 0.03, 0.05, 0.08, 0.12, 0.20, 0.35, 1.0])


@dataclass(frozen=True, eq=False)
class Asked:
    """One shop's jobs: what was said just before each, its chance of a miss by the true biases, and
    whether it missed."""

    stated: FloatArray
    known: FloatArray
    missed: FloatArray


def ask(seed: int) -> Asked:
    """Every ASKED_EVERY-th job is asked about; nothing is done about flags."""
    change = HAPPENS[seed // 2 % len(HAPPENS)] if seed % 2 else None
    one = season(seed, n=JOBS, change=change)
    with drawn_with(ENGINE_SD=0.0):
        bias = season(seed, n=JOBS, change=change).true_bias
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(some_jobs(one.jobs, 0, SETTLED), events=events_within(one.events, 0, SETTLED))
    rows = np.arange(SETTLED, JOBS, ASKED_EVERY)
    stated = np.empty(rows.size)
    for at, row in enumerate(rows):
        job = NextJob(fixture=int(one.jobs.fixture[row]), operator=int(one.jobs.operator[row]))
        stated[at] = evenness_miss(
            watch.channels["tilt"], job, clocking_deg=[float(one.jobs.clocking_deg[row])]
        )
        until = row + ASKED_EVERY
        watch.take(some_jobs(one.jobs, row, until), events=events_within(one.events, row, until))
    var = shop.ENGINE_SD**2 + shop.READ_SD**2
    far = np.hypot(*bias[rows].T) ** 2 / var
    missed = np.hypot(*one.jobs.tilt_achieved_mm[rows].T) > EVENNESS_LIMIT_MM
    return Asked(
        stated=stated,
        known=stats.ncx2.sf(EVENNESS_LIMIT_MM**2 / var, 2, far),
        missed=missed.astype(float),
    )


@dataclass(frozen=True)
class Bin:
    """Jobs of which about the same was said: how many, the mean of what was said, of their chances
    by the true biases, and the share that missed."""

    jobs: int
    stated: float
    known: float
    missed: float


@dataclass(frozen=True)
class Calibration:
    """error: mean over jobs of |stated - known| by bin. brier: expected, of what was said, of each
    shop's own mean chance in hindsight, and of the true biases; chance of the outcomes themselves
    is averaged out. attained: share of what the true biases gain over the shop's rate. attained_se:
    by shops drawn again."""

    jobs: int
    bins: tuple[Bin, ...]
    error: float
    brier: float
    brier_shop_rate: float
    brier_known: float
    attained: float
    attained_se: float


def calibration(asked: list[Asked], *, rng: np.random.Generator) -> Calibration:
    stated, known, missed = (
        np.concatenate([getattr(one, name) for one in asked])
        for name in ("stated", "known", "missed")
    )
    which = np.clip(np.searchsorted(EDGES, stated, side="right") - 1, 0, EDGES.size - 2)
    bins = tuple(
        Bin(
            jobs=int(mine.sum()),
            stated=float(stated[mine].mean()),
            known=float(known[mine].mean()),
            missed=float(missed[mine].mean()),
        )
        for mine in (which == at for at in range(EDGES.size - 1))
        if mine.any()
    )
    # E(p - missed)^2 = (p - known)^2 + known (1 - known).
    squares = np.array(
        [
            (((one.stated - one.known) ** 2).sum(), ((one.known.mean() - one.known) ** 2).sum())
            for one in asked
        ]
    )
    drawn = squares[rng.integers(0, len(asked), (400, len(asked)))].sum(axis=1)
    ours, rate = squares.sum(axis=0) / stated.size
    left = float((known * (1 - known)).mean())
    return Calibration(
        jobs=stated.size,
        bins=bins,
        error=sum(one.jobs * abs(one.stated - one.known) for one in bins) / stated.size,
        brier=ours + left,
        brier_shop_rate=rate + left,
        brier_known=left,
        attained=1 - ours / rate,
        attained_se=float(np.std(drawn[:, 0] / drawn[:, 1])),
    )
