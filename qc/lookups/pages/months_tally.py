"""What the months held beside the jobs: flags and what came of them, services, and misses.

As one reader may know of it: flags that are not theirs to know count nowhere, and a job is not
said to have used a suspect whose name they may not read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import UTC, date, datetime, tzinfo
from functools import reduce
from operator import or_

from django.db.models import Case, Count, ExpressionWrapper, F, FloatField, Q, QuerySet, Value, When
from django.db.models.functions import Cast

from qc.actor import Actor
from qc.lookups.charts.scopes import scope_of
from qc.lookups.flags.lines import FlagLine
from qc.lookups.flags.told import flag_lines, flags_for
from qc.lookups.pages.months import INSIDE, begins, month_after
from qc.lookups.shop.policy import shop_policy
from qc.lookups.watch.own_jobs import OWN
from qc.lookups.watch.what_pays import MINUTES
from qc.models import FlagState, JobResult, Lathe, ServiceEvent

# The newest so many are told, however many there were.
MOST_FLAGS = 200
MOST_SERVICES = 300

FOREVER = datetime.max.replace(tzinfo=UTC)
# Just at the limit is within it, whatever the last digits of the sum come to.
ROUNDING_MM2 = 1e-9


@dataclass(frozen=True)
class Tally:
    """raised: flags of that time; cause_found, none_found: what came of these. minutes: that the
    services take by the shop's settings. misses: jobs out of tolerance or beyond the evenness
    limit; on_flagged: those made with what a flag suspected that stood open then."""

    raised: int = 0
    cause_found: int = 0
    none_found: int = 0
    services: int = 0
    minutes: int = 0
    misses: int = 0
    on_flagged: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


@dataclass(frozen=True)
class Told:
    """by_month: with a month's first day, oldest first, those in which there was something. raised:
    the flags of that time; services: the newest ones."""

    by_month: Mapping[date, Tally] = field(default_factory=dict)
    raised: Sequence[FlagLine] = ()
    services: Sequence[ServiceEvent] = ()

    @property
    def whole(self) -> Tally:
        return sum(self.by_month.values(), Tally())

    @property
    def says(self) -> str:
        """All of it in a few sentences; empty where there was nothing."""
        whole, said = self.whole, []
        if whole.raised:
            flags = "1 flag" if whole.raised == 1 else f"{whole.raised} flags"
            answers = {
                "with a cause found": whole.cause_found,
                "with none": whole.none_found,
                "open or closed without saying": whole.raised
                - whole.cause_found
                - whole.none_found,
            }
            came = ", ".join(f"{count} {what}" for what, count in answers.items() if count)
            said.append(f"{flags} raised: {came}.")
        if whole.services:
            services = (
                "1 service counts" if whole.services == 1 else f"{whole.services} services count"
            )
            said.append(f"{services} as {spent(whole.minutes)} by the shop's settings.")
        if whole.misses:
            jobs = "1 job" if whole.misses == 1 else f"{whole.misses} jobs"
            said.append(
                f"Of {jobs} that missed, {whole.on_flagged} used what an open flag suspected."
            )
        return " ".join(said)


def spent(minutes: int) -> str:
    """45 minutes, 6 hours or 6.5 hours."""
    if minutes < 90:
        return f"{minutes} minutes"
    hours = minutes / 60
    return f"{hours:.1f} hours".replace(".0 ", " ") if hours < 20 else f"{hours:.0f} hours"


def months_tally(
    results: QuerySet[JobResult],
    by: Actor,
    *,
    lathe: Lathe | None,
    months: Sequence[date],
    zone: tzinfo,
    until: date | None = None,
) -> Told:
    """From the first day of the first of these months on, oldest first; up to the end of the month
    of `until`, where there is one. results: the jobs told of; with a lathe, flags and services are
    its own and its edges'."""
    if not months:
        return Told()
    since = begins(months[0], zone=zone)
    before = FOREVER if until is None else month_after(until, zone=zone)
    lines = _flags(by, lathe, since, before)
    services = _services(lathe, since, before)
    minutes = {kind: getattr(shop_policy(), name) for kind, name in MINUTES.items()}
    raised = [one for one in lines if one.flag.raised_at >= since]
    found = [
        *(_of_flag(one, zone) for one in raised),
        *(
            (_month(one.at, zone), Tally(services=1, minutes=minutes[one.about_kind]))
            for one in services
        ),
    ]
    drawn = results.filter(measured_at__gte=since, measured_at__lt=before)
    missed = _with_evenness(drawn).filter(_missed())
    found += [(month, Tally(misses=jobs)) for month, jobs in _counted(missed, months, zone)]
    on_flagged = _on_flagged(lines)
    if on_flagged is not None:
        some = _counted(missed.filter(on_flagged), months, zone)
        found += [(month, Tally(on_flagged=jobs)) for month, jobs in some]
    told: dict[date, Tally] = {}
    for month, tally in sorted(found, key=lambda one: one[0]):
        told[month] = told.get(month, Tally()) + tally
    return Told(told, raised, services)


def _flags(by: Actor, lathe: Lathe | None, since: datetime, before: datetime) -> list[FlagLine]:
    """Those that stood open at any time between."""
    own = Q() if lathe is None else Q(lathe=lathe) | Q(edge__lathe=lathe)
    standing = Q(closed_at=None) | Q(closed_at__gte=since)
    return flag_lines(flags_for(by).filter(own, standing, raised_at__lt=before)[:MOST_FLAGS], by)


def _services(lathe: Lathe | None, since: datetime, before: datetime) -> list[ServiceEvent]:
    own = Q() if lathe is None else scope_of(lathe).services()
    newest = ServiceEvent.objects.filter(own, at__gte=since, at__lt=before).order_by("-at")
    return list(newest.select_related("fixture", "lathe", "edge", "gauge")[:MOST_SERVICES])


def _of_flag(line: FlagLine, zone: tzinfo) -> tuple[date, Tally]:
    """What was said of it afterwards counts before how it was closed."""
    came = line.flag.state if line.finding is None else line.finding.state
    return _month(line.flag.raised_at, zone), Tally(
        raised=1,
        cause_found=int(came == FlagState.CAUSE_FOUND),
        none_found=int(came == FlagState.NONE_FOUND),
    )


def _missed() -> Q:
    """The height out of its tolerance, or the evenness beyond the limit it was judged by."""
    return ~INSIDE | Q(uneven_by__gt=ROUNDING_MM2)


def _with_evenness(results: QuerySet[JobResult]) -> QuerySet[JobResult]:
    """uneven_by: 4 a squared less the limit squared; null without a tilt vector."""
    across = F("tilt_cos_mm") * F("tilt_cos_mm") + F("tilt_sin_mm") * F("tilt_sin_mm")
    limit = Cast("policy__evenness_limit_mm", FloatField())
    by = ExpressionWrapper(4.0 * across - limit * limit, output_field=FloatField())
    return results.annotate(uneven_by=by)


def _on_flagged(lines: Iterable[FlagLine]) -> Q | None:
    """Jobs after one of these flags was raised, until it was closed, made with what it suspects;
    None where there is no such flag."""
    each = [
        Q(measured_at__gt=line.flag.raised_at)
        & (Q() if line.flag.closed_at is None else Q(measured_at__lt=line.flag.closed_at))
        & reduce(or_, [Q(**{OWN[one.kind]: one.key}) for one in known])
        for line in lines
        if (known := [one for one in line.suspects if one.key is not None])
    ]
    return reduce(or_, each) if each else None


def _counted(
    results: QuerySet[JobResult], starts: Sequence[date], zone: tzinfo
) -> list[tuple[date, int]]:
    """How many of these in each month that has one."""
    newest_first = [
        When(measured_at__gte=begins(one, zone=zone), then=Value(n))
        for n, one in reversed(list(enumerate(starts)))
    ]
    rows = results.order_by().annotate(nth=Case(*newest_first)).values("nth")
    return [(starts[row["nth"]], row["jobs"]) for row in rows.annotate(jobs=Count("pk"))]


def _month(at: datetime, zone: tzinfo) -> date:
    return at.astimezone(zone).date().replace(day=1)
