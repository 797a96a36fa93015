"""How likely the next job is to miss: evenness beyond its limit, or height outside its tolerance.

What will be read is a mixture over "nothing has moved" and every hypothesis of which resource
moved, when and how; each part is normal, with the reading's own error (three sizes an axis) added.
What is meant is the reading, as the verdict sees it, not the true gap behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from qc.errors import BadInput
from qc.numerics.checks import require_finite
from qc.numerics.drift.channel_settings import SCALES
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.forecast import HAZARD, LEAST_WEIGHT, Outlook, outlook, place_of
from qc.numerics.drift.jobs import Jobs, jobs
from qc.numerics.results import FloatArray

# Evenness limit, side to side over a 40 mm circle: the shop setting's default.
EVENNESS_LIMIT_MM = 0.060
# Where the shop has not said how it clocks its cylinders.
QUARTERS = (0.0, 90.0, 180.0, 270.0)

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)
# A normal's reach, in standard deviations: beyond it lies less than 1e-9.
REACH = 6.5


@dataclass(frozen=True)
class NextJob:
    """Who and what the next job would be done with; None where it is not known."""

    fixture: int | None = None
    operator: int | None = None
    lathe: int | None = None
    edge: int | None = None
    gauge_found: int | None = None
    gauge_achieved: int | None = None
    edge_jobs: int = 0
    radius_mm: float = 20.0

    def rows(self, n: int, **read: ArrayLike) -> Jobs:
        """n jobs like this one; `read` fills further columns."""
        names = ("fixture", "operator", "lathe", "edge", "gauge_found", "gauge_achieved")
        known = {name: getattr(self, name) for name in names}
        if any(one is not None and one < 0 for one in known.values()):
            raise BadInput(why="A resource's id is a whole number >= 0, or None where unknown.")
        columns = {name: np.full(n, one) for name, one in known.items() if one is not None}
        return jobs(
            n,
            edge_jobs=np.full(n, float(self.edge_jobs)),
            radius_mm=np.full(n, float(self.radius_mm)),
            **columns,
            **read,
        )


def evenness_miss(
    tilt: ChannelWatch,
    job: NextJob,
    *,
    clocking_deg: Sequence[float] = QUARTERS,
    limit_mm: float = EVENNESS_LIMIT_MM,
    ahead: int = 1,
    hazard: float = HAZARD,
    moved: tuple[str, int] | None = None,
) -> float:
    """P(side-to-side difference read > limit), averaged over these clockings of the cylinder.

    tilt: the tilt channel, watch.channels["tilt"]. clocking_deg: one clocking for one job; those
    the shop uses, each as often as it uses it, for the average. limit_mm: over a 40 mm circle,
    whatever the circle of the job.
    ahead: so many own jobs ahead, wear going on as it does; 1 is the very next job. hazard: how
    often a resource moves, an own job. moved: kind and id of what is taken to have moved, since
    when and how far as believed of it; None: as likely as each is.

    Raises BadInput for another channel, a limit not above 0, no clocking, ahead < 1, or where
    nothing is held against `moved`; NotFinite for a NaN.
    """
    if tilt.settings.name != "tilt":
        raise BadInput(why=f"Evenness is told by the tilt channel, not {tilt.settings.name}.")
    if not len(clocking_deg) or not limit_mm > 0:
        raise BadInput(why="Give at least one clocking, and a limit above 0.")
    # A shop clocks a few ways, and each costs as much to work out however often it is used.
    turned, often = np.unique(require_finite(clocking_deg, what="A clocking"), return_counts=True)
    possible = job.rows(
        turned.size, clocking_deg=turned, tilt_achieved_mm=np.zeros((turned.size, 2))
    )
    seen = _outlook(tilt, possible, ahead=ahead, hazard=hazard, moved=moved)
    each = [_evenness_miss(seen, at, limit_mm) for at in range(turned.size)]
    return float(np.average(each, weights=often))


def height_miss(
    height: ChannelWatch,
    job: NextJob,
    *,
    lower_mm: float,
    upper_mm: float,
    shift_mm: float = 0.0,
    ahead: int = 1,
    hazard: float = HAZARD,
    moved: tuple[str, int] | None = None,
) -> float:
    """P(height error read, plus shift_mm, outside lower_mm..upper_mm).

    height: the height channel. lower_mm, upper_mm: the tolerance about target. shift_mm: predicted
    less target height, were it not to be cut dead on, and any correction the shop makes for an
    error it knows. moved: see evenness_miss.

    Raises BadInput unless lower_mm < upper_mm, for ahead < 1, or where nothing is held against
    `moved`; NotFinite for a NaN.
    """
    lower, upper, shift = require_finite([lower_mm, upper_mm, shift_mm], what="A tolerance")
    if not lower < upper:
        raise BadInput(why="The lower tolerance must lie below the upper one.")
    possible = job.rows(1, height_error_mm=[0.0])
    seen = _outlook(height, possible, ahead=ahead, hazard=hazard, moved=moved)
    weight, mean, cov = mixture(seen, 0)
    # seen.y is 0 less the edge's usual wear.
    centre = mean[:, :1] - seen.y[0] + shift
    sd = np.sqrt(cov[:, 0] + seen.noise_var[0] * SCALES**2)
    outside = ndtr((lower - centre) / sd) + ndtr((centre - upper) / sd)
    return float(weight @ (outside @ seen.shares[0]))


def _outlook(
    channel: ChannelWatch,
    possible: Jobs,
    *,
    ahead: int,
    hazard: float,
    moved: tuple[str, int] | None,
) -> Outlook:
    least = LEAST_WEIGHT if moved is None else 0.0
    seen = outlook(channel, possible, ahead=ahead, hazard=hazard, least_weight=least)
    if moved is None:
        return seen
    weight = np.where(seen.who == channel.held_at(place_of(channel, *moved)), seen.weight, 0.0)
    if not weight.sum() > 0:
        raise BadInput(why=f"Nothing is held against {moved[0]} {moved[1]}.")
    return replace(seen, weight=weight / weight.sum())


def mixture(seen: Outlook, job: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weight (k,), mean (k, m) and covariance (k, m, m) of a job's readings without their own
    errors: "nothing has moved" first."""
    mine = seen.readings_of(job)
    effect = seen.effect[:, mine]
    shifted = np.einsum("hmd,hd->hm", effect, seen.move)
    widened = np.einsum("hmd,hde,hke->hmk", effect, seen.move_cov, effect)
    none = np.zeros((1, *shifted.shape[1:]))
    mean = seen.mean[mine] + np.concatenate([none, shifted])
    cov = seen.cov[mine, mine] + np.concatenate([np.zeros((1, *widened.shape[1:])), widened])
    weight = np.concatenate([[1 - seen.weight.sum()], seen.weight])
    return weight, mean, cov


def _evenness_miss(seen: Outlook, job: int, limit_mm: float) -> float:
    mine = seen.readings_of(job)
    weight, mean, cov = mixture(seen, job)
    noise, share = seen.noise_var[mine], seen.shares[mine]
    chance = 0.0
    for first, scale in enumerate(SCALES):
        for second, other in enumerate(SCALES):
            total = cov + np.diag(noise * np.array([scale, other]) ** 2)
            outside = beyond_circle(mean, total, radius=limit_mm)
            chance += float(share[0, first] * share[1, second] * (weight @ outside))
    return chance


def beyond_circle(mean: FloatArray, cov: FloatArray, *, radius: float) -> FloatArray:
    """P(|z| > radius), z normal in two dimensions; shape (k,).

    mean (k, 2), cov (k, 2, 2), positive definite. Gauss and Legendre over one coordinate, as far as
    it reaches, the other in closed form; equal to the noncentral chi-square where cov is a multiple
    of the identity, to 1e-6.
    """
    sd = np.sqrt(cov[:, 0, 0])[:, None]
    slope = (cov[:, 0, 1] / cov[:, 0, 0])[:, None]
    left = np.sqrt(cov[:, 1, 1] - cov[:, 0, 1] ** 2 / cov[:, 0, 0])[:, None]
    ends = np.clip((mean[:, :1] + sd * np.array([-REACH, REACH])) / radius, -1, 1)
    turns = np.arcsin(ends)
    width = (turns[:, 1:] - turns[:, :1]) / 2
    turn = turns[:, :1] + width * (1 + _NODES)
    x, half = radius * np.sin(turn), radius * np.cos(turn)
    off = x - mean[:, :1]
    centre = mean[:, 1:] + slope * off
    inside = ndtr((half - centre) / left) - ndtr((-half - centre) / left)
    density = np.exp(-0.5 * (off / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
    covered = (inside * density * half * width) @ _WEIGHTS
    return np.clip(1 - covered, 0.0, 1.0)
