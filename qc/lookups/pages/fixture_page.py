"""Everything one fixture's page shows: has it moved, since when, how far and toward where."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import Max

from qc.actor import Actor
from qc.lookups.charts.fixture_chart import (
    FixtureChart,
    fixture_chart,
    last_restarts,
)
from qc.lookups.flags.lines import FlagLine
from qc.lookups.flags.told import flag_lines, flags_for
from qc.lookups.pages.fixtures import FixtureRow, fixture_row
from qc.lookups.record.channels import measured_rounds, newest
from qc.lookups.shop.listings import services_of
from qc.lookups.shop.pace import false_signal_pace
from qc.lookups.shop.policy import shop_policy
from qc.models import (
    Channel,
    Fixture,
    JobResult,
    ServiceEvent,
    ShopPolicy,
    Signal,
)
from qc.numerics.tilt import REFERENCE_RADIUS_MM

# What was answered at the bench: most of what a row weighs, and nothing of it is on this page.
# So many of the newest jobs are shown. The chart is worked out over more of them: where those are
# not all there ever were, the first ones begin it as if the fixture had just been put right.
SHOWN = 200
CHARTED = 2 * SHOWN
ANSWERED = ("detail", "round__plan", "round__indicated", "round__clocking_test")


@dataclass(frozen=True)
class FixtureJob:
    """One measured round on the fixture.

    side_to_side_mm and wide_deg: the achieved tilt at a 20 mm radius, on the fixture's clock, for a
    round that is on the chart; `why_off` says why another is not. distance: how far the chart's
    running tilt stood from where the fixture's earlier jobs put it, in its standard deviations: the
    root of the chart's statistic. height_signal: the rule that fired on its height error, in words.
    """

    job_id: int
    round_number: int
    at: datetime
    verdict: str
    height_error_mm: float | None
    spread_mm: float | None
    side_to_side_mm: float | None = None
    wide_deg: float | None = None
    distance: float | None = None
    is_signal: bool = False
    why_off: str = ""
    height_signal: str = ""

    @property
    def label(self) -> str:
        return label(self.job_id, self.round_number)


@dataclass(frozen=True)
class Estimate:
    """Where the tilt sits now: (cos, sin) at a 20 mm radius, and its variance on either axis."""

    cos_mm: float
    sin_mm: float
    variance_mm2: float

    @property
    def side_to_side_mm(self) -> float:
        return math.hypot(self.cos_mm, self.sin_mm)

    @property
    def wide_deg(self) -> float:
        return math.degrees(math.atan2(self.sin_mm, self.cos_mm)) % 360


@dataclass(frozen=True)
class FixturePage:
    """`jobs` are the last measured rounds, oldest first; `current` the charted ones among them
    since the last service or closed flag. allowed_mm: the evenness limit at a 20 mm radius, for the
    widest engine ever measured. pace: how often a false flag comes, None before there is a pace.
    """

    fixture: Fixture
    row: FixtureRow
    flag: FlagLine | None
    estimate: Estimate | None
    jobs: Sequence[FixtureJob]
    current: Sequence[FixtureJob]
    allowed_mm: float
    limit_distance: float
    pace: str | None
    services: Sequence[ServiceEvent]
    past_flags: Sequence[FlagLine]
    begins_at: datetime | None

    @property
    def jobs_before(self) -> int:
        """How many are too old to be among the jobs."""
        return self.row.jobs - len(self.jobs)

    @property
    def left_out(self) -> list[FixtureJob]:
        return [one for one in self.jobs if one.why_off]

    @property
    def charted(self) -> list[FixtureJob]:
        return [one for one in self.jobs if not one.why_off]


def fixture_page(fixture: Fixture, *, now: datetime, by: Actor) -> FixturePage:
    chart = fixture_chart(fixture, newest=CHARTED)
    begins = last_restarts().get(fixture.pk)
    jobs = _jobs(fixture, chart)
    current = [one for one in jobs if not one.why_off and (begins is None or one.at >= begins)]
    policy = shop_policy()
    flags = flag_lines(flags_for(by, fixture=fixture.pk), by)
    return FixturePage(
        fixture=fixture,
        row=fixture_row(fixture),
        flag=next((one for one in flags if one.is_open), None),
        estimate=_estimate(chart) if current else None,
        jobs=jobs,
        current=current,
        allowed_mm=_allowed(fixture, policy),
        limit_distance=math.sqrt(chart.limit),
        # Over every job of the shop: so the watch counts them, and so its limit was set.
        pace=false_signal_pace(policy, measured_rounds(), now=now),
        services=list(services_of(fixture).order_by("-at", "-pk")),
        past_flags=[one for one in flags if not one.is_open],
        begins_at=begins,
    )


def label(job_id: int, round_number: int) -> str:
    """How a round is named: job 41, or job 41 round 2."""
    return f"job {job_id}" if round_number == 1 else f"job {job_id} round {round_number}"


def _jobs(fixture: Fixture, chart: FixtureChart) -> list[FixtureJob]:
    place = {one.round_id: i for i, one in enumerate(chart.jobs)}
    own = JobResult.objects.filter(is_current=True, round__fixture=fixture)
    last = newest(own.order_by("measured_at", "pk"), SHOWN)
    results = list(last.select_related("round").defer(*ANSWERED))
    said = {
        one.round_id: one.get_rule_display()
        for one in Signal.objects.filter(
            channel=Channel.HEIGHT_ERROR,
            withdrawn_at=None,
            round__in=[one.round_id for one in results],
        )
    }
    return [_job(one, chart, place, said.get(one.round_id, "")) for one in results]


def _job(
    result: JobResult, chart: FixtureChart, place: dict[int, int], height_signal: str
) -> FixtureJob:
    job = FixtureJob(
        job_id=result.round.job_id,
        round_number=result.round.number,
        at=result.measured_at,
        verdict=result.verdict,
        height_error_mm=result.height_error_mm,
        spread_mm=result.spread_mm,
        height_signal=height_signal,
    )
    where = place.get(result.round_id)
    if where is None:
        return replace(job, why_off=_why_off(result))
    tilt = chart.jobs[where].tilt_mm
    assert tilt is not None  # fixture_chart takes only rounds with one
    return replace(
        job,
        side_to_side_mm=math.hypot(*tilt),
        wide_deg=math.degrees(math.atan2(tilt[1], tilt[0])) % 360,
        distance=math.sqrt(chart.statistic[where]),
        is_signal=bool(chart.chart.signal[where]),
    )


def _why_off(result: JobResult) -> str:
    if result.is_reading_only:
        return "measured at one position: a reading only"
    if result.tilt_component_mm is not None:
        return "measured at two positions: one component of a tilt, no direction"
    if result.tilt_cos_mm is None:
        return "its positions do not reach round the bore"
    return "no clocking recorded: its tilt cannot be turned to this fixture"


def _estimate(chart: FixtureChart) -> Estimate:
    cos_mm, sin_mm = chart.chart.estimate_mm[-1]
    variance = chart.chart.estimate_cov_mm2[-1][0][0]
    return Estimate(float(cos_mm), float(sin_mm), float(variance))


def _allowed(fixture: Fixture, policy: ShopPolicy) -> float:
    """Tilt grows with radius, so the largest radius measured here allows the least at 20 mm."""
    widest = JobResult.objects.filter(is_current=True, round__fixture=fixture).aggregate(
        radius=Max("measuring_radius_mm")
    )["radius"]
    radius = REFERENCE_RADIUS_MM if widest is None else float(widest)
    return float(policy.evenness_limit_mm) * REFERENCE_RADIUS_MM / radius
