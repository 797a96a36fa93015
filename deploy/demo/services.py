"""What is put right in the demo shop between its jobs, which answers its older flags, and when its
gauges are looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Literal

import numpy as np

from deploy.demo.furnishing import Bench, fit_edge
from deploy.demo.gauges import checking, register_block, study_hands
from deploy.demo.season import PUT_RIGHT_AT
from deploy.demo.shop import FIXTURES, KNOCKED, OPERATORS
from qc.lookups.flags.suspected import concerning
from qc.models import Answer, CauseFound, ServiceKind
from qc.operations import decisions, resources

CHECKS, STUDIED_AT = 14, 0.85
Work = Callable[[datetime], object]


@dataclass(frozen=True)
class Service:
    """share: of the season's jobs that are done before it. number: which fixture or gauge; for an
    edge, which lathe is fitted with a new one. found: what the lead saw where it answers a flag."""

    share: float
    kind: Literal["edge", "fixture", "gauge"]
    number: int
    found: str = ""

    def before_job(self, jobs: int) -> int:
        return round(jobs * self.share)


SERVICES = (
    Service(0.20, "edge", 0),
    Service(0.30, "fixture", 0),
    Service(0.42, "edge", 0),
    Service(0.42, "edge", 1),
    Service(0.45, "fixture", 6),
    Service(0.55, "gauge", 2),
    Service(PUT_RIGHT_AT, "fixture", FIXTURES.index(KNOCKED), "A chip under the locating face"),
    Service(0.75, "edge", 0),
)


def planned(
    bench: Bench, *, seed: int, opened: datetime, until: datetime, jobs: int
) -> dict[int, list[Work]]:
    """What is done before which job, given the time at which it is done."""
    found: dict[int, list[Work]] = {}
    for service in SERVICES:
        work = _work(service, bench, until=until)
        found.setdefault(service.before_job(jobs), []).append(work)
    for number, look in _gauges_looked_at(bench, seed=seed, opened=opened, jobs=jobs):
        found.setdefault(number, []).append(look)
    return found


def _work(service: Service, bench: Bench, *, until: datetime) -> Work:
    if service.found:
        return lambda when: _answer(service, bench, at=when)
    if service.kind == "edge":
        return lambda when: fit_edge(bench, service.number, at=when)
    if service.kind == "fixture":
        return lambda when: resources.record_service(
            subject=bench.fixtures[service.number],
            kind=ServiceKind.REINDICATED,
            as_found_mm=Decimal("0.006"),
            as_left_mm=Decimal("0.002"),
            by=bench.lead,
            at=when,
            note="Routine",
        )
    return lambda when: resources.record_service(
        subject=bench.gauges[service.number],
        kind=ServiceKind.CALIBRATED,
        as_found_mm=Decimal("0.001"),
        as_left_mm=Decimal("0.000"),
        calibration_due=(until + timedelta(days=200)).date(),
        by=bench.lead,
        at=when,
        note="Gauge blocks, 5 points",
    )


def _answer(service: Service, bench: Bench, *, at: datetime) -> None:
    """The lead accepts what was recommended about a fixture's flag, and does it. Where the season
    brought no flag, it is a service like any other."""
    subject = bench.fixtures[service.number]
    asked = concerning(("fixture", subject.pk))
    for flag in asked:
        decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=bench.lead, at=at)
    found = CauseFound.HERE if asked else CauseFound.NOT_KNOWN
    resources.record_service(
        subject=subject,
        kind=ServiceKind.REINDICATED,
        as_found_mm=Decimal("0.078"),
        as_left_mm=Decimal("0.004"),
        found=found,
        note=service.found,
        by=bench.lead,
        at=at,
    )


def _gauges_looked_at(
    bench: Bench, *, seed: int, opened: datetime, jobs: int
) -> Iterator[tuple[int, Work]]:
    """Before which job a micrometer is checked, and when its study of hands is made.

    Drawn apart from the season, which stays as it was.
    """
    rng = np.random.default_rng(seed + 1)
    gauge, crew = bench.gauges[1], [bench.people[one] for one in OPERATORS]
    block = register_block(lead=bench.lead, at=opened)
    check = checking(gauge, block, by=bench.people["tomo"], rng=rng, since=opened)
    for part in range(1, CHECKS + 1):
        yield round(jobs * part / CHECKS), check
    yield (
        round(jobs * STUDIED_AT),
        lambda when: study_hands(
            gauge, crew, lead=bench.lead, rng=rng, at=when - timedelta(hours=4)
        ),
    )
