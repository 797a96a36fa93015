"""The fixtures' tilt charts as they are stored and stepped, and the noise they share.

The noise of one job's tilt is read from the shop's newest clocked jobs each time their number has
doubled, and held in between: then a new job costs the same however many came before it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from qc.lookups.charts.fixture_chart import (
    clocked_results,
    pooled_noise,
    restart_times,
)
from qc.lookups.charts.kept_charts import Place, WrittenAsItIs
from qc.lookups.record.channels import newest_points, placed_points
from qc.models import ChartKind, Fixture
from qc.numerics.tilt_chart import NOISE_SD_MM
from qc.numerics.tilt_running import TiltPoint, TiltState, next_tilt

FIRST_NOISE_AT = 25
NOISE_JOBS = 400


@dataclass(frozen=True)
class ClockedJob:
    """A clocked round. tilt_mm: its side-to-side difference in the fixture's frame."""

    place: Place
    round_id: int
    tilt_mm: tuple[float, float]


class TiltNoiseKept(WrittenAsItIs):
    """The noise that all fixtures share, kept as the shop's clocked jobs come in."""

    kind = ChartKind.TILT_NOISE
    key = "shop"

    def fresh(self) -> dict[str, Any]:
        return {"jobs": 0, "noise_sd_mm": NOISE_SD_MM}

    def read(self, after: Place | None) -> Iterator[ClockedJob]:
        return clocked_jobs(after)

    def step(self, state: dict[str, Any], job: ClockedJob) -> tuple[dict[str, Any], float]:
        jobs, noise = state["jobs"] + 1, state["noise_sd_mm"]
        if is_doubling(jobs):
            noise = noise_up_to(job.place)
        return {"jobs": jobs, "noise_sd_mm": noise}, noise


def is_doubling(jobs: int) -> bool:
    """Whether the noise is read afresh after so many jobs: 25, 50, 100, ..."""
    times, rest = divmod(jobs, FIRST_NOISE_AT)
    return rest == 0 and times > 0 and times & (times - 1) == 0


def noise_up_to(place: Place) -> float:
    """The noise of the newest clocked jobs up to and including a place."""
    earlier = clocked_results().exclude(place.later())
    return pooled_noise(newest_points(earlier, NOISE_JOBS), restart_times())


class TiltKept(WrittenAsItIs):
    """One fixture's tilt chart. What its limit or noise is goes into its state: another one means
    the chart is stepped again from nothing."""

    kind = ChartKind.TILT

    def __init__(self, fixture: Fixture, *, limit: float, noise_sd_mm: float) -> None:
        self.fixture, self.limit, self.noise_sd_mm = fixture, limit, noise_sd_mm
        self.key = str(fixture.pk)
        self._restarts: Sequence[datetime] = ()

    def fresh(self) -> dict[str, Any]:
        settings = {"limit": self.limit, "noise_sd_mm": self.noise_sd_mm}
        return {"at": None, **settings, "tilt": asdict(TiltState())}

    def read(self, after: Place | None) -> Iterator[ClockedJob]:
        self._restarts = restart_times(self.fixture).get(self.fixture.pk, [])
        return clocked_jobs(after, fixture=self.fixture)

    def step(self, state: dict[str, Any], job: ClockedJob) -> tuple[dict[str, Any], TiltPoint]:
        at = job.place.at
        before = None if state["at"] is None else datetime.fromisoformat(state["at"])
        begins = before is None or any(before < one <= at for one in self._restarts)
        told = state["tilt"]
        tilt = TiltState(told["jobs"], tuple(told["total_mm"]), tuple(told["smooth"]))
        after, point = next_tilt(
            TiltState() if begins else tilt,
            job.tilt_mm,
            limit=state["limit"],
            noise_sd_mm=state["noise_sd_mm"],
        )
        return {
            **state,
            "at": at.isoformat(),
            "tilt": asdict(after),
        }, point


def clocked_jobs(after: Place | None, *, fixture: Fixture | None = None) -> Iterator[ClockedJob]:
    """Clocked jobs after a place, in order; of all fixtures where none is named.

    Few jobs follow a place, while a fixture's own in the database are all there ever were: there
    the database looks by time alone.
    """
    rows = clocked_results()
    if after is not None:
        rows = rows.filter(after.later(), measured_at__gte=after.at)
    elif fixture is not None:
        rows = rows.filter(round__fixture=fixture)
    for pk, point in placed_points(rows):
        assert point.tilt_mm is not None  # clocked_results takes only rounds with one
        if fixture is None or point.fixture_id == fixture.pk:
            yield ClockedJob(Place(point.at, pk), point.round_id, point.tilt_mm)
