"""What the shop can promise: capability of its target errors, with every doubt stated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time

from django.http import HttpRequest, HttpResponse, QueryDict
from django.utils import timezone

from dashboards.forms.statistics import SHARES, PromiseForm
from dashboards.views.ground import page, show
from qc import access
from qc.actor import Actor
from qc.errors import BadInput
from qc.lookups.charts.capability import ShopCapability, shop_capability
from qc.lookups.charts.shifts import target_error_shifts
from qc.lookups.pages import accuracy
from qc.lookups.record.channels import JobPoint

# Nothing sent is as good a question as any.
USUAL = {"sides": "both", "coverage": "0.95", "confidence": "0.95"}


@page("accuracy")
def promise(request: HttpRequest, by: Actor) -> HttpResponse:
    asked = request.GET.get("lathe")
    lathe = access.lathe(asked) if asked else None
    form = PromiseForm({**USUAL, **request.GET.dict()})
    found = wish = None
    if form.is_valid():
        wish, since = form.wish(), form.cleaned_data["since"]
        begin = since and datetime.combine(since, time.min, timezone.get_current_timezone())
        try:
            found = shop_capability(accuracy.points_of(lathe, since=begin), wish)
        except BadInput as error:
            form.add_error(None, str(error))
    context = {
        "found": found,
        "wish": wish,
        "lathe": lathe,
        "form": form,
        "promised": dict(SHARES).get(form["coverage"].value()),
        "most": accuracy.NEWEST,
        "indices": [] if found is None else list(_indices(found)),
        "later": found and _later(found, request.GET.copy()),
    }
    return show(request, "dashboards/accuracy/promise.html", context, status=_status(form))


@dataclass(frozen=True)
class IndexLine:
    name: str
    value: float
    low: float
    high: float
    says: str


def _indices(told: ShopCapability) -> Iterator[IndexLine]:
    """Those that the limits asked for allow."""
    found = told.found
    if found is None:
        return
    short, overall = found.short, found.overall
    lines = (
        ("Cp", short.cp, found.cp_interval, "tolerance over six sigma, job to job"),
        ("Cpk", short.cpk, found.cpk_interval, "room to the nearer limit, job to job"),
        ("Pp", overall.cp, found.pp_interval, "tolerance over six sigma, all jobs"),
        ("Ppk", overall.cpk, found.ppk_interval, "room to the nearer limit, all jobs"),
        ("Cpm", overall.cpm, found.cpm_interval, "tolerance over six times the miss from target"),
    )
    for name, value, interval, says in lines:
        if value is not None and interval is not None:
            yield IndexLine(name, value, interval.low, interval.high, says)


@dataclass(frozen=True)
class LaterStart:
    """The job that began the present level, and the question that begins with it."""

    job: JobPoint
    query: str


def _later(found: ShopCapability, asked: QueryDict) -> LaterStart | None:
    """Where an unsteady record had a shift: the jobs after the last one may be steady."""
    shifts = target_error_shifts(found.jobs).shifts if not found.is_steady else ()
    if not shifts:
        return None
    job = shifts[-1].job
    asked["since"] = timezone.localtime(job.at).date().isoformat()
    return LaterStart(job, asked.urlencode())


def _status(form: PromiseForm) -> int:
    return 422 if form.errors else 200
