"""What a new result teaches: signals on the shop's charts, and flags on a fixture."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from qc.lookups.channels import JobPoint, job_points
from qc.lookups.error_charts import ErrorChart, error_chart
from qc.models import Channel, Round, Rule, Signal
from qc.operations.flags import follow_fixture, lock_fixture


@transaction.atomic
def learn(*, round_id: int, at: datetime) -> None:
    """Bring every chart this round is on up to date. Safe to run twice."""
    round_ = Round.objects.select_related("job", "lathe", "fixture").get(pk=round_id)
    if round_.fixture is not None:
        lock_fixture(round_.fixture)  # before the jobs are read, so that no newer ones are missed
    points = job_points()
    for channel in Channel:
        _signals(error_chart(channel, points=points), round_, at=at)
        if round_.lathe is not None:
            _signals(error_chart(channel, lathe=round_.lathe, points=points), round_, at=at)
    if round_.fixture is not None:
        follow_fixture(round_.fixture, round_=round_, at=at, points=points)


def _signals(chart: ErrorChart, round_: Round, *, at: datetime) -> None:
    fired = _fired(chart, round_)
    for rule in Rule:
        row = Signal.objects.filter(
            channel=chart.channel, lathe=chart.lathe, rule=rule, round=round_
        )
        if rule not in fired:
            row.filter(withdrawn_at=None).update(withdrawn_at=at)
            continue
        value, limit = fired[rule]
        if not row.update(value_mm=value, limit_mm=limit, withdrawn_at=None):
            Signal.objects.create(
                channel=chart.channel,
                lathe=chart.lathe,
                rule=rule,
                round=round_,
                at=at,
                value_mm=value,
                limit_mm=limit,
            )


def _fired(chart: ErrorChart, round_: Round) -> dict[Rule, tuple[float, float]]:
    """The rules that begin to fire at this round, each with its value and the limit it passed."""
    where = _index(chart.jobs, round_)
    if where is None or chart.individuals is None or chart.ewma is None:
        return {}
    fired: dict[Rule, tuple[float, float]] = {}
    limits = chart.individuals.limits
    if chart.individuals.beyond[where]:
        value = float(chart.individuals.value[where])
        fired[Rule.INDIVIDUALS] = (value, limits.upper if value > limits.upper else limits.lower)
    ewma = chart.ewma
    if ewma.signal[where] and not (where > 0 and ewma.signal[where - 1]):
        value, half = float(ewma.z[where]), float(ewma.half_width[where])
        fired[Rule.EWMA] = (value, ewma.centre + (half if value > ewma.centre else -half))
    return fired


def _index(points: Sequence[JobPoint], round_: Round) -> int | None:
    return next((i for i, one in enumerate(points) if one.round_id == round_.pk), None)
