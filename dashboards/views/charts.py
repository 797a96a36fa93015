"""The charts of errors: one chart first, the other ways of looking at it one click away."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.figures.lanes import time_lanes, time_lanes_table
from dashboards.forms.charts import FreezeForm, GiveUpForm
from dashboards.refusals import saved
from dashboards.views.chart_drawings import chart_lane_rows
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import NotThere
from qc.lookups.charts.chart_lanes import View
from qc.lookups.charts.chart_page import ChartPage, chart_page
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import (
    SHOP,
    Scope,
    ScopeKind,
    scope_named,
    subjects,
)
from qc.models import Channel, Fixture, Resource, Role
from qc.operations.baselines import freeze_limits, give_up_limits
from qc.operations.learning import rebuild_all

WORDS = {
    View.SINGLES: ("Single jobs", "each job, and how far it lies from the one before"),
    View.AVERAGE: ("Running average", "for slow movement"),
    View.SUMS: ("Cumulative sums", "for a small shift that stays"),
    View.SHARE: ("Share of tolerance", "where tolerances differ from job to job"),
    View.RANGE: ("Mean and range", "of the positions of each job"),
    View.DEVIATION: ("Mean and deviation", "of the positions of each job"),
    View.BETWEEN: ("Between and within jobs", "is it the jobs, or the positions inside them?"),
    View.FIRST: ("First jobs", "each against those before it, with no baseline"),
}
FIND: dict[ScopeKind, Any] = {
    ScopeKind.LATHE: access.lathe,
    ScopeKind.EDGE: access.edge,
    ScopeKind.GAUGE: access.gauge,
}


@page("accuracy")
def chart(request: HttpRequest, by: Actor) -> HttpResponse:
    found = _found(request)
    rows = chart_lane_rows(found)
    context = {
        "page": found,
        "title": _title(found),
        "table": time_lanes_table(rows, unit=by.person.unit, with_limits=True),
        "query": _query(found),
        "channels": [(one, _query(found, of=one)) for one in Channel],
        "whose": _whose(found),
        "views": [(one, *WORDS[one], _query(found, view=one)) for one in found.views],
        "view_name": WORDS[found.view][0],
        "fixtures": list(Fixture.objects.filter(retired_at=None).order_by("name")),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/charts/chart.html", context)


@page("accuracy")
def figure(request: HttpRequest, by: Actor) -> HttpResponse:
    return drawn(time_lanes(chart_lane_rows(_found(request)), unit=by.person.unit))


@page("accuracy", role=Role.LEAD, to="freeze a chart's limits")
def freeze(request: HttpRequest, by: Actor) -> HttpResponse:
    found = _found(request)
    form = FreezeForm(sent(request), initial=FreezeForm.starts(found.suggested))
    if saved(
        form,
        lambda: freeze_limits(
            chart=ErrorChartKept(found.channel, found.scope),
            by=by,
            at=timezone.now(),
            **form.cleaned_data,
        ),
    ):
        messages.success(request, "The limits are frozen. They stay until a lead renews them.")
        return redirect(_address(found))
    context = {"page": found, "title": _title(found), "back": _address(found)}
    return show(request, "dashboards/charts/freeze.html", context, form=form)


@page("accuracy", role=Role.LEAD, to="give up a chart's limits")
def give_up(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    baseline = access.baseline(key)
    kept = ErrorChartKept.of_key(baseline.chart.key)
    back = _link(of=kept.channel, scope=kept.scope)
    form = GiveUpForm(sent(request))
    if saved(
        form,
        lambda: give_up_limits(
            baseline=baseline, why=form.cleaned_data["why"], by=by, at=timezone.now()
        ),
    ):
        messages.success(request, "Limits are estimated afresh from the next job on.")
        return redirect(back)
    context = {"baseline": baseline, "back": back}
    return show(request, "dashboards/charts/give_up.html", context, form=form)


@require_POST
@page("accuracy", role=Role.LEAD, to="rebuild the charts")
def rebuild(request: HttpRequest, by: Actor) -> HttpResponse:
    rebuilt = rebuild_all(at=timezone.now(), by=by)
    told = f"{rebuilt.charts} charts were worked out again from the readings"
    if rebuilt.differed:
        messages.error(request, f"{told}; these had differed: {', '.join(rebuilt.differed)}.")
    else:
        messages.success(request, f"{told}. All were as they should be.")
    return redirect("dashboards:charts")


def _found(request: HttpRequest) -> ChartPage:
    """What the question mark asks for. Raises NotThere for what the shop does not have."""
    try:
        channel = Channel(request.GET.get("of", Channel.TARGET_ERROR))
        scope = scope_named(request.GET.get("whose", str(SHOP)))
        asked = request.GET.get("as")
        view = View(asked) if asked else None
    except ValueError:
        raise NotThere(what="chart") from None
    subject: Resource | None = None if scope.pk is None else FIND[scope.kind](scope.pk)
    found = chart_page(channel, subject, view=view, now=timezone.now())
    if found.view not in found.views:
        raise NotThere(what="chart")
    return found


def _title(found: ChartPage) -> str:
    whose = "the shop" if found.subject is None else found.subject.name
    return f"{str(found.channel.label).capitalize()} of {whose}"


def _query(found: ChartPage, *, of: Channel | None = None, view: View | None = None) -> str:
    told = {"of": of or found.channel, "whose": str(found.scope)}
    if of is None:
        told["as"] = view or found.view
    return f"?{urlencode(told)}"


def _address(found: ChartPage) -> str:
    return reverse("dashboards:charts") + _query(found)


def _link(*, of: Channel, scope: Scope) -> str:
    return f"{reverse('dashboards:charts')}?{urlencode({'of': of, 'whose': str(scope)})}"


def _whose(found: ChartPage) -> list[tuple[str, list[tuple[str, str, bool]]]]:
    """The shop and every lathe, edge and gauge: (heading, (name, address, whether shown))."""
    shop = ("", [("The shop", _link(of=found.channel, scope=SHOP), found.subject is None)])
    return [
        shop,
        *(
            (
                f"{kind.capitalize()}s",
                [
                    (
                        one.name,
                        _link(of=found.channel, scope=Scope(kind, one.pk)),
                        one == found.subject,
                    )
                    for one in rows
                ],
            )
            for kind, rows in subjects().items()
            if rows
        ),
    ]
