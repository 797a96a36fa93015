"""The jobs of one lathe, edge, gauge or person through time, with its services and flags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qc.lookups.flags.lines import FlagLine
from qc.lookups.pages.fixture_page import label
from qc.lookups.record.channels import newest
from qc.lookups.watch.beliefs import Believed
from qc.lookups.watch.own_jobs import BEARS_ON, own_rounds
from qc.models import DriftChannel, ServiceEvent
from qc.numerics.tilt import REFERENCE_RADIUS_MM

# A drawing stays legible and quick up to so many jobs.
SHOWN = 200
COLUMNS = (
    "round_id",
    "round__job_id",
    "round__number",
    "measured_at",
    "height_error_mm",
    "spread_mm",
    "tilt_cos_mm",
    "tilt_sin_mm",
    "measuring_radius_mm",
)


@dataclass(frozen=True)
class OwnJob:
    """toward_0_mm, toward_90_mm: the achieved side-to-side difference on the engine's clock, at a
    20 mm radius; None without a tilt vector."""

    round_id: int
    label: str
    at: datetime
    height_error_mm: float | None
    spread_mm: float | None
    toward_0_mm: float | None
    toward_90_mm: float | None


@dataclass(frozen=True)
class ResourceLanes:
    """jobs: the last SHOWN measured rounds, oldest first; are_older: there were others before.
    services: since the first of the jobs where there were. flagged: by channel and round, in words.
    levels: where its jobs are expected on each channel, and since when."""

    channels: Sequence[DriftChannel]
    jobs: Sequence[OwnJob]
    flagged: Mapping[tuple[str, int], str]
    services: Sequence[ServiceEvent]
    levels: Mapping[DriftChannel, Believed]
    are_older: bool = False


def resource_lanes(
    kind: str, key: int, *, flags: Sequence[FlagLine], believed: Sequence[Believed] = ()
) -> ResourceLanes:
    """flags: those this reader may know of, see held_against."""
    last = newest(own_rounds(kind, key), SHOWN + 1)
    jobs = [_job(row) for row in last.values_list(*COLUMNS)]
    are_older, jobs = len(jobs) > SHOWN, jobs[-SHOWN:]
    is_person = kind == "person"
    services = [] if is_person else ServiceEvent.objects.filter(**{kind: key}).order_by("at", "pk")
    return ResourceLanes(
        channels=BEARS_ON[kind],
        jobs=jobs,
        flagged=_flagged(flags),
        services=[one for one in services if not are_older or one.at >= jobs[0].at],
        levels={one.channel: one for one in believed},
        are_older=are_older,
    )


def _job(row: tuple[Any, ...]) -> OwnJob:
    told = dict(zip(COLUMNS, row, strict=True))
    scale = 2 * REFERENCE_RADIUS_MM / float(told["measuring_radius_mm"])
    cos_mm, sin_mm = told["tilt_cos_mm"], told["tilt_sin_mm"]
    return OwnJob(
        round_id=told["round_id"],
        label=label(told["round__job_id"], told["round__number"]),
        at=told["measured_at"],
        height_error_mm=told["height_error_mm"],
        spread_mm=told["spread_mm"],
        toward_0_mm=None if cos_mm is None else scale * cos_mm,
        toward_90_mm=None if sin_mm is None else scale * sin_mm,
    )


def _flagged(flags: Sequence[FlagLine]) -> dict[tuple[str, int], str]:
    return {
        (one.channel, one.flag.raised_by_id): f"{one.since.label} the likeliest first after the "
        "move"
        for one in flags
    }
