"""What happened in the demo shop: a season of invented jobs, drawn from a seed.

Pure: numbers in, numbers out, nothing saved. The shop's habits and noise are of the sizes the
drift method's invented shop has (computed there, not measured in a real shop): on the
side-to-side difference at a 20 mm radius, engines differ by 0.015 mm on each axis, a fixture
sits within 0.006 mm of true, a base face left by others is 0.008 mm off, and a gap reading is
good to about 0.007 mm. One fixture is knocked by 0.080 mm, put right, and knocked again not long
before the end. In the last third the edge on one lathe wears by 0.0009 mm a job.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from deploy.demo.shop import (
    FAMILIES,
    FIXTURES,
    FIXTURES_OF,
    GAUGES,
    KNOCKED,
    LATHES,
    OPERATORS,
    WEARING_LATHE,
)

JOBS = 300
SEASON = timedelta(days=330)
KNOCK_MM = 0.080
KNOCK_AT, PUT_RIGHT_AT, KNOCKED_AGAIN_AT = 0.60, 0.74, 0.86
ENGINE_SD_MM, FIXTURE_SD_MM, OLD_FACE_SD_MM, READING_SD_MM = 0.015, 0.006, 0.008, 0.007
HEIGHT_SD_MM, FOUND_SD_MM = 0.010, 0.025
WEAR_MM_A_JOB, WEAR_FROM = 0.0009, 2 / 3
POSITIONS = (0, 90, 180, 270)
SHIFT_FROM, SHIFT_SHARE = timedelta(hours=8), 0.4
CLOCKINGS = (0, 45, 90, 135, 180, 225, 270, 315)
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class DemoJob:
    """One engine's visit. Gaps are true plus reading noise, mm; found and achieved are (k, 2).

    achieved_mm is for a depth of zero: what the cut takes off comes off every entry. again_mm is
    the same for a second round, on another fixture. mistyped: an as-found reading was mistyped
    and had to be voided.
    """

    number: int
    at: datetime
    family: int
    fixture: int
    lathe: int
    gauge: int
    operator: str
    clocking_deg: int | None
    positions_deg: tuple[int, ...]
    found_mm: FloatArray
    achieved_mm: FloatArray
    depth_error_mm: float
    again_fixture: int
    again_mm: FloatArray
    mistyped: bool


def season(seed: int, *, until: datetime, jobs: int = JOBS) -> list[DemoJob]:
    """Jobs in cutting order, the last on the day of `until`. The same seed, the same jobs."""
    rng = np.random.default_rng(seed)
    bias = rng.normal(0, FIXTURE_SD_MM, (len(FIXTURES), 2))
    knock_toward = rng.uniform(0, 2 * math.pi)
    knock = KNOCK_MM * np.array([math.cos(knock_toward), math.sin(knock_toward)])
    times = np.sort(rng.uniform(0, 1, jobs))
    times /= times[-1]
    worn = 0
    made = []
    for number in range(jobs):
        if number in (round(jobs * KNOCK_AT), round(jobs * KNOCKED_AGAIN_AT)):
            bias[FIXTURES.index(KNOCKED)] += knock
        if number == round(jobs * PUT_RIGHT_AT):
            bias[FIXTURES.index(KNOCKED)] -= knock
        job = _draw(
            rng, number, at=_at_work(until - SEASON * (1 - times[number]), until=until), bias=bias
        )
        if LATHES[job.lathe] == WEARING_LATHE and number >= jobs * WEAR_FROM:
            worn += 1
        wear = worn * WEAR_MM_A_JOB if LATHES[job.lathe] == WEARING_LATHE else 0.0
        made.append(_worn(job, wear))
    return made


def _at_work(at: datetime, *, until: datetime) -> datetime:
    """The same day, at an hour when somebody is at the bench, and never after `until`."""
    midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
    return min(until, midnight + SHIFT_FROM + (at - midnight) * SHIFT_SHARE)


def _worn(job: DemoJob, wear_mm: float) -> DemoJob:
    """A worn edge takes less off than the dial says, so the gap comes out wider."""
    return replace(job, depth_error_mm=job.depth_error_mm + wear_mm)


def _draw(rng: np.random.Generator, number: int, *, at: datetime, bias: FloatArray) -> DemoJob:
    family = int(rng.choice(len(FAMILIES), p=[0.38, 0.40, 0.22]))
    name = str(FAMILIES[family]["name"])
    fixture = int(rng.choice(FIXTURES_OF[name]))
    clocking = int(rng.choice(CLOCKINGS))
    engine = rng.normal(0, ENGINE_SD_MM, 2)
    old_face = rng.normal(0, OLD_FACE_SD_MM, 2)
    two_only = rng.uniform() < 0.03
    positions = (0, 180) if two_only else POSITIONS
    scale = float(str(FAMILIES[family]["measuring_radius_mm"])) / 20.0
    found_height = float(str(FAMILIES[family]["expected_gap_mm"])) + rng.normal(0, FOUND_SD_MM)
    found = _gaps(found_height, (engine + old_face) * scale, positions)
    achieved = _gaps(found_height, (engine + _turn(bias[fixture], clocking)) * scale, positions)
    again_fixture = next(one for one in FIXTURES_OF[name] if one != fixture)
    again = _gaps(found_height, (engine + _turn(bias[again_fixture], clocking)) * scale, positions)
    return DemoJob(
        number=number,
        at=at,
        family=family,
        fixture=fixture,
        lathe=int(rng.choice(len(LATHES), p=[0.55, 0.45])),
        gauge=int(rng.choice(len(GAUGES), p=[0.45, 0.35, 0.20])),
        operator=str(rng.choice(OPERATORS, p=[0.45, 0.40, 0.15])),
        clocking_deg=None if rng.uniform() < 0.05 else clocking,
        positions_deg=positions,
        found_mm=found[:, None] + rng.normal(0, READING_SD_MM, (len(positions), 2)),
        achieved_mm=achieved[:, None] + rng.normal(0, READING_SD_MM, (len(positions), 2)),
        depth_error_mm=float(rng.normal(0, HEIGHT_SD_MM)),
        again_fixture=again_fixture,
        again_mm=again[:, None] + rng.normal(0, READING_SD_MM, (len(positions), 2)),
        mistyped=bool(rng.uniform() < 0.03),
    )


def _turn(vector: FloatArray, by_deg: float) -> FloatArray:
    c, s = math.cos(math.radians(by_deg)), math.sin(math.radians(by_deg))
    return np.array([c * vector[0] - s * vector[1], s * vector[0] + c * vector[1]])


def _gaps(height_mm: float, side_to_side_mm: FloatArray, positions: tuple[int, ...]) -> FloatArray:
    """Gap at each position: height plus half the side-to-side difference toward it."""
    phi = np.radians(positions)
    return np.asarray(
        height_mm + side_to_side_mm[0] / 2 * np.cos(phi) + side_to_side_mm[1] / 2 * np.sin(phi)
    )
