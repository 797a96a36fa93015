"""One fixture's tilt chart kept up job by job, to the bit as `tilt_chart` would rebuild it.

Five numbers are kept, whatever the stretch's length, until it signals. Dating the change then takes
the stretch's own jobs: pass them to `tilt_chart`, which also says where the tilt sits since.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.numerics.charts.ewma import weighted_mean
from qc.numerics.constant_bias import posterior, surprises
from qc.numerics.results import FloatArray
from qc.numerics.series import require_number, require_rows
from qc.numerics.tilt_chart import NOISE_SD_MM, PRIOR_SD_MM, WEIGHT, tilt_statistic


@dataclass(frozen=True)
class TiltState:
    """jobs: in this stretch. total_mm: their tilt vectors added up. smooth: the weighted mean of
    their standardised surprises. A new stretch begins with TiltState()."""

    jobs: int = 0
    total_mm: tuple[float, float] = (0.0, 0.0)
    smooth: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, eq=False)
class TiltPoint:
    """One job. estimate_mm, estimate_var_mm2: the fixture's tilt and its variance on either axis
    after this job, as long as the stretch has not signalled."""

    statistic: float
    signal: bool
    estimate_mm: FloatArray
    estimate_var_mm2: float


def next_tilt(
    state: TiltState,
    tilt_mm: ArrayLike,
    *,
    limit: float,
    noise_sd_mm: float = NOISE_SD_MM,
    prior_sd_mm: float = PRIOR_SD_MM,
    weight: float = WEIGHT,
) -> tuple[TiltState, TiltPoint]:
    """Add one job's tilt vector, shape (2,), in the fixture's frame. Settings as tilt_chart, the
    same for every job of the stretch. Raises BadInput, NotFinite."""
    tilt = require_rows(np.atleast_2d(tilt_mm), width=2, what="A tilt vector")
    noise_var = require_number(noise_sd_mm, what="The noise", above=0) ** 2
    prior_var = require_number(prior_sd_mm, what="The prior", above=0) ** 2
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    before = np.array([state.total_mm])
    total = before + tilt
    mean, var = posterior(
        np.vstack([before, total]),
        np.array([state.jobs, state.jobs + 1]),
        noise_var=noise_var,
        prior_var=prior_var,
    )
    surprise = surprises(tilt, mean[:1], var[:1], noise_var=noise_var)
    smooth = weighted_mean(surprise, weight=weight, before=np.array(state.smooth))
    statistic = float(tilt_statistic(smooth, weight=weight)[0])
    after = TiltState(
        jobs=state.jobs + 1,
        total_mm=(float(total[0, 0]), float(total[0, 1])),
        smooth=(float(smooth[0, 0]), float(smooth[0, 1])),
    )
    return after, TiltPoint(
        statistic=statistic,
        signal=statistic > require_number(limit, what="The limit", above=0),
        estimate_mm=mean[1],
        estimate_var_mm2=float(var[1]),
    )
