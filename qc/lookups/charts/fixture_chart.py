"""The tilt chart of one fixture, from its jobs and its service history.

Jobs without a clocking or without a tilt vector stay off it: their tilt cannot be turned into
the fixture's frame.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from django.db.models import Max, QuerySet

from qc.lookups.record.channels import (
    JobPoint,
    job_points,
    measured_rounds,
    newest_points,
)
from qc.models import (
    ChartKind,
    Fixture,
    Flag,
    FlagState,
    JobResult,
    ServiceEvent,
    ShopPolicy,
    StoredChart,
)
from qc.numerics.results import FloatArray
from qc.numerics.run_length import limit_for_false_flags
from qc.numerics.tilt_chart import (
    NOISE_SD_MM,
    WEIGHT,
    TiltChange,
    TiltChart,
    pooled_tilt_noise,
    tilt_chart,
)

RESTARTS = (FlagState.CAUSE_FOUND, FlagState.NONE_FOUND)


@dataclass(frozen=True, eq=False)
class FixtureChart:
    """The chart with the jobs its rows stand for. noise_sd_mm: of one job, on one axis.

    restarted_since: the fixture was serviced, or its flag closed, after its last charted job; what
    the chart saw before then is history.
    """

    jobs: tuple[JobPoint, ...]
    chart: TiltChart
    noise_sd_mm: float
    restarted_since: bool

    @property
    def statistic(self) -> FloatArray:
        return self.chart.statistic

    @property
    def limit(self) -> float:
        return self.chart.limit

    @property
    def current_change(self) -> TiltChange | None:
        return None if self.restarted_since else self.chart.current_change


def fixture_chart(fixture: Fixture, *, newest: int | None = None) -> FixtureChart:
    """The fixture's chart with its every job, or as its newest jobs alone give it, by the noise and
    the limit now in force."""
    own = clocked_results().filter(round__fixture=fixture)
    return chart_from(
        job_points(own) if newest is None else newest_points(own, newest),
        restarts=restart_times(fixture).get(fixture.pk, []),
        limit=flag_limit(),
        noise_sd_mm=stored_noise(),
    )


def chart_from(
    own: Sequence[JobPoint], *, restarts: Sequence[datetime], limit: float, noise_sd_mm: float
) -> FixtureChart:
    """The chart of one fixture's clocked jobs."""
    chart = tilt_chart(
        _tilts(own),
        limit=limit,
        noise_sd_mm=noise_sd_mm,
        stretch_start=stretch_starts(own, restarts),
    )
    since = any(at > own[-1].at for at in restarts) if own else False
    return FixtureChart(
        jobs=tuple(own), chart=chart, noise_sd_mm=noise_sd_mm, restarted_since=since
    )


def clocked_results() -> QuerySet[JobResult]:
    """The results whose tilt can be turned into their fixture's frame, in order."""
    return measured_rounds().filter(
        tilt_cos_mm__isnull=False,
        tilt_sin_mm__isnull=False,
        round__fixture__isnull=False,
        round__clocking_deg__isnull=False,
    )


def stored_noise() -> float:
    """The noise of one job's tilt now in force, mm on either axis."""
    found = StoredChart.objects.filter(kind=ChartKind.TILT_NOISE).first()
    return NOISE_SD_MM if found is None else float(found.state["noise_sd_mm"])


def flag_limit() -> float:
    """The chart's limit for the shop's wished false flags a season, over all fixtures together."""
    policy = ShopPolicy.objects.order_by("-pk").first() or ShopPolicy()
    return limit_for_false_flags(
        float(policy.false_flags_per_season), float(policy.season_jobs), weight=WEIGHT
    )


def restart_times(fixture: Fixture | None = None) -> dict[int, list[datetime]]:
    """For each fixture, when its chart starts afresh: at a service, or a flag closed by hand."""
    services = ServiceEvent.objects.filter(fixture__isnull=False)
    flags = Flag.objects.filter(state__in=RESTARTS, fixture__isnull=False)
    if fixture is not None:
        services, flags = services.filter(fixture=fixture), flags.filter(fixture=fixture)
    times: dict[int, list[datetime]] = {}
    for key, at in services.values_list("fixture_id", "at"):
        times.setdefault(key, []).append(at)
    for flag in flags:
        assert flag.closed_at is not None  # close_flag sets both
        assert flag.fixture_id is not None
        times.setdefault(flag.fixture_id, []).append(flag.closed_at)
    return {key: sorted(values) for key, values in times.items()}


def last_restarts() -> dict[int, datetime]:
    """When each fixture's chart last started afresh; none for a fixture whose chart never did."""
    services = ServiceEvent.objects.filter(fixture__isnull=False).order_by()
    flags = Flag.objects.filter(state__in=RESTARTS, fixture__isnull=False).order_by()
    found = dict(services.values_list("fixture").annotate(Max("at")))
    for key, at in flags.values_list("fixture").annotate(Max("closed_at")):
        found[key] = max(at, found.get(key, at))
    return found


def stretch_starts(points: Sequence[JobPoint], restarts: Sequence[datetime]) -> list[bool]:
    """True at the first job and at each first job after a restart."""
    counts = [sum(at <= one.at for at in restarts) for one in points]
    return [i == 0 or counts[i] != counts[i - 1] for i in range(len(points))]


def _tilts(points: Sequence[JobPoint]) -> FloatArray:
    return np.array([one.tilt_mm for one in points], dtype=np.float64).reshape(-1, 2)


def pooled_noise(points: Sequence[JobPoint], restarts: Mapping[int, Sequence[datetime]]) -> float:
    """The noise of one job's tilt, pooled over the stretches of every fixture among the points."""
    by_fixture: dict[int, list[JobPoint]] = {}
    for one in points:
        assert one.fixture_id is not None  # a tilt in the fixture's frame has a fixture
        by_fixture.setdefault(one.fixture_id, []).append(one)
    stretches: list[FloatArray] = []
    for key, own in by_fixture.items():
        cuts = np.flatnonzero(stretch_starts(own, restarts.get(key, [])))[1:]
        stretches.extend(np.split(_tilts(own), cuts))
    return float(pooled_tilt_noise(stretches))
