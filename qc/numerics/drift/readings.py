"""Jobs as the filter takes them: each reading a sum of states plus noise.

Tilt, engine frame (R turns by the clocking; g is the engine's own, c the shop's, c_o the hands'):
    found    = c + c_o + g + e                 (the old face was cut elsewhere: noise of its own)
    achieved = c + c_o + g + R e_fixture + e
Height: error - usual wear x the edge's jobs = m + lathe + edge + operator + gauge + e
Spread: log s2 - (psi(df/2) - log(df/2)) = m + operator + gauge + e, var e = psi'(df/2)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import polygamma, psi

from qc.numerics.drift import defaults
from qc.numerics.drift.channel_settings import ChannelSettings
from qc.numerics.drift.jobs import Jobs
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import BoolArray
from qc.numerics.tilt import REFERENCE_RADIUS_MM

MOST_INVOLVED, MOST_TERMS = 4, 8
FOUND, ACHIEVED = 0, 1


class Readings(NamedTuple):
    """involved (n, 4): resources, by place, that this job counts for; -1 pads. start (n + 1,):
    the job's readings are start[i]:start[i + 1] of the rest. y, var, group, seen_before (m,).
    terms (m, 8) of the states at rows (m, 8)."""

    involved: IntArray
    start: IntArray
    y: FloatArray
    var: FloatArray
    group: IntArray
    rows: IntArray
    terms: FloatArray
    seen_before: IntArray


@dataclass(frozen=True, eq=False)
class _Part:
    """At most one reading a job: those of `job`, ascending."""

    job: IntArray
    y: FloatArray
    var: FloatArray
    group: int
    rows: IntArray
    terms: FloatArray
    seen_before: IntArray


def tilt_readings(
    jobs: Jobs, *, place: dict[str, IntArray], settings: ChannelSettings, left_out: BoolArray
) -> Readings:
    """place: for "fixture", "operator" and "found_fixture", each job's resource, -1 for none."""
    scale = REFERENCE_RADIUS_MM / jobs.radius_mm
    knows_clocking = np.isfinite(jobs.clocking_deg)
    fixture = np.where(knows_clocking, place["fixture"], -1)
    has_achieved = np.isfinite(jobs.tilt_achieved_mm).any(axis=1) & ~left_out
    unplaced = 2 * settings.kinds[0].sd ** 2 * (place["fixture"] >= 0) * ~knows_clocking
    parts = []
    for group, tilt, axis in (
        (FOUND, jobs.tilt_found_mm, jobs.found_axis_deg),
        (ACHIEVED, jobs.tilt_achieved_mm, jobs.achieved_axis_deg),
    ):
        for component in (0, 1):
            toward = np.where(np.isfinite(axis), axis, 90.0 * component)
            known = np.isfinite(tilt[:, component]) & ~left_out
            if component == 1:
                known &= ~np.isfinite(axis)
            if group == FOUND:
                cut_on = np.where(np.isfinite(jobs.found_clocking_deg), place["found_fixture"], -1)
                clocking = jobs.found_clocking_deg
                var = defaults.READ_SD**2 + np.where(cut_on < 0, defaults.OLD_FACE_SD**2, 0.0)
                seen = cut_on >= 0
            else:
                cut_on, clocking = fixture, jobs.clocking_deg
                var = np.full(len(jobs), defaults.READ_SD**2)
                seen = np.zeros(len(jobs), dtype=bool)
            var = var * scale**2 + (unplaced if group == ACHIEVED else 0.0)
            rows, terms = _tilt_terms(toward, clocking, cut_on, place["operator"])
            job = np.flatnonzero(known)
            parts.append(
                _Part(
                    job=job,
                    y=(tilt[:, component] * scale)[job],
                    var=var[job],
                    group=group,
                    rows=rows[job],
                    terms=terms[job],
                    seen_before=seen[job].astype(np.int64),
                )
            )
    involved = np.stack(
        [np.where(has_achieved, fixture, -1), np.where(has_achieved, place["operator"], -1)], axis=1
    )
    return _gather(parts, involved, n=len(jobs))


def _tilt_terms(
    toward: FloatArray, clocking: FloatArray, cut_on: IntArray, operator: IntArray
) -> tuple[IntArray, FloatArray]:
    """The component toward an engine direction: of c, g, c_o, and the fixture's turned vector."""
    n = toward.size
    rows = np.zeros((n, MOST_TERMS), dtype=np.int64)
    terms = np.zeros((n, MOST_TERMS))
    unit = np.stack([_cos(toward), _sin(toward)], axis=1)
    on_fixture = np.where(cut_on >= 0, toward - np.nan_to_num(clocking), 0.0)
    turned = np.stack([_cos(on_fixture), _sin(on_fixture)], axis=1)
    blocks = (
        (np.zeros(n, dtype=np.int64), unit),
        (np.ones(n, dtype=np.int64), unit),
        (np.where(operator >= 0, 2 + operator, -1), unit),
        (np.where(cut_on >= 0, 2 + cut_on, -1), turned),
    )
    for at, (block, coefficient) in enumerate(blocks):
        for axis in (0, 1):
            rows[:, 2 * at + axis] = np.where(block >= 0, 2 * block + axis, 0)
            terms[:, 2 * at + axis] = np.where(block >= 0, coefficient[:, axis], 0.0)
    return rows, terms


def _cos(deg: FloatArray) -> FloatArray:
    """Cosine that is exactly 0 a quarter turn from either end, so that no stray term is kept."""
    return _quarter_exact(np.cos(np.deg2rad(deg)))


def _sin(deg: FloatArray) -> FloatArray:
    return _quarter_exact(np.sin(np.deg2rad(deg)))


def _quarter_exact(value: FloatArray) -> FloatArray:
    return np.where(np.abs(value) < 1e-12, 0.0, value)


def height_readings(
    jobs: Jobs, *, place: dict[str, IntArray], settings: ChannelSettings, left_out: BoolArray
) -> Readings:
    """place: for "lathe", "edge", "operator", "gauge_achieved" and "gauge_found"."""
    same_gauge = (place["gauge_found"] >= 0) & (place["gauge_found"] == place["gauge_achieved"])
    used = [
        (place["lathe"], 1.0),
        (place["edge"], 1.0),
        (place["operator"], 1.0),
        (np.where(same_gauge, -1, place["gauge_achieved"]), 1.0),
        (np.where(same_gauge, -1, place["gauge_found"]), -1.0),
    ]
    known = np.isfinite(jobs.height_error_mm)
    job = np.flatnonzero(known)
    rows, terms = _number_terms(used, len(jobs))
    part = _Part(
        job=job,
        y=(jobs.height_error_mm - defaults.WEAR_A_JOB * jobs.edge_jobs)[job],
        var=np.full(job.size, defaults.HEIGHT_SD**2),
        group=ACHIEVED,
        rows=rows[job],
        terms=terms[job],
        seen_before=np.zeros(job.size, dtype=np.int64),
    )
    involved = np.stack([np.where(known, which, -1) for which, _ in used[:4]], axis=1)
    return _gather([part], involved, n=len(jobs))


def spread_readings(
    jobs: Jobs, *, place: dict[str, IntArray], settings: ChannelSettings, left_out: BoolArray
) -> Readings:
    """place: for "operator" and "gauge_achieved"."""
    used = [(place["operator"], 1.0), (place["gauge_achieved"], 1.0)]
    known = np.isfinite(jobs.spread_mm) & (jobs.spread_mm > 0) & (jobs.spread_df > 0) & ~left_out
    job = np.flatnonzero(known)
    half = jobs.spread_df[job] / 2
    rows, terms = _number_terms(used, len(jobs))
    part = _Part(
        job=job,
        y=2 * np.log(jobs.spread_mm[job]) - (psi(half) - np.log(half)) - 2 * np.log(0.010),
        var=polygamma(1, half),
        group=ACHIEVED,
        rows=rows[job],
        terms=terms[job],
        seen_before=np.zeros(job.size, dtype=np.int64),
    )
    involved = np.stack([np.where(known, which, -1) for which, _ in used], axis=1)
    return _gather([part], involved, n=len(jobs))


def _number_terms(used: list[tuple[IntArray, float]], n: int) -> tuple[IntArray, FloatArray]:
    """The shop's mean, and the bias of each resource used."""
    rows = np.zeros((n, MOST_TERMS), dtype=np.int64)
    terms = np.zeros((n, MOST_TERMS))
    terms[:, 0] = 1.0
    for at, (which, sign) in enumerate(used, start=1):
        rows[:, at] = np.where(which >= 0, 1 + which, 0)
        terms[:, at] = np.where(which >= 0, sign, 0.0)
    return rows, terms


def _gather(parts: list[_Part], involved: IntArray, *, n: int) -> Readings:
    """All parts' readings in the order of their jobs; within a job in the order of the parts."""
    job = np.concatenate([part.job for part in parts])
    order = np.argsort(job, kind="stable")
    padded = np.full((n, MOST_INVOLVED), -1, dtype=np.int64)
    padded[:, : involved.shape[1]] = involved
    start = np.zeros(n + 1, dtype=np.int64)
    np.cumsum(np.bincount(job, minlength=n), out=start[1:])
    group = np.concatenate([np.full(part.job.size, part.group, dtype=np.int64) for part in parts])
    return Readings(
        involved=padded,
        start=start,
        y=np.concatenate([part.y for part in parts])[order],
        var=np.concatenate([part.var for part in parts])[order],
        group=group[order],
        rows=np.concatenate([part.rows for part in parts])[order],
        terms=np.concatenate([part.terms for part in parts])[order],
        seen_before=np.concatenate([part.seen_before for part in parts])[order],
    )
