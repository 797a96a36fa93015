"""Lathes, tool edges, gauges and fixtures: listed, registered, changed, serviced, retired."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from dashboards.forms.resources import NewEdgeForm, RetireForm
from dashboards.refusals import saved
from dashboards.telling import journal_lines
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, sent, show
from dashboards.views.kinds import EDGE, FIXTURE, LATHE, Kind
from dashboards.views.resource_drawings import lanes_drawing, standing_drawn
from dashboards.views.standards import checked
from qc import access
from qc.actor import Actor
from qc.errors import ChangedMeanwhile
from qc.lookups.flags.held_against import held_against
from qc.lookups.flags.suspected import (
    asked_about,
    edges_asked_about,
    ended_by_retiring,
    is_in_question,
    suspected_openly,
)
from qc.lookups.flags.told import flag_lines
from qc.lookups.pages.shop import lathes_in_use
from qc.lookups.shop.resources import resource_page, resource_rows
from qc.models import CauseFound, Gauge, Role
from qc.operations import resources

CHANGE = "change the shop's resources"


@page("shop")
def rows(request: HttpRequest, by: Actor, kind: Kind) -> HttpResponse:
    context = {
        "kind": kind,
        "rows": resource_rows(kind.model, today=timezone.localdate()),
        "suspected": _suspected(kind),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/shop/resources.html", context)


@page("shop")
def one(request: HttpRequest, by: Actor, kind: Kind, key: int) -> HttpResponse:
    found = resource_page(kind.find(key), today=timezone.localdate())
    told = (
        # A fixture has a page of its own for how it stands.
        {"flags": held_against(kind.slug, key, by).flags}
        if kind is FIXTURE
        else standing_drawn(kind.slug, key, by)
    )
    context = {
        "kind": kind,
        "page": found,
        "resource": found.row.resource,
        # Checks have a table of their own on a gauge's page.
        "journal": journal_lines(one for one in found.journal if one.action != "gauge.checked"),
        "edge_kind": EDGE,
        "suspected": _suspected(EDGE) if kind is LATHE else (),
        **told,
        "is_lead": by.may(Role.LEAD),
        **(checked(found.row.resource, by) if isinstance(found.row.resource, Gauge) else {}),
    }
    return show(request, "dashboards/shop/resource.html", context)


def _suspected(kind: Kind) -> set[int]:
    return {key for slug, key in suspected_openly() if slug == kind.slug}


@page("shop")
def lanes_figure(request: HttpRequest, by: Actor, kind: Kind, key: int) -> HttpResponse:
    return drawn(lanes_drawing(kind.slug, kind.find(key).pk, by))


@page("shop", role=Role.LEAD, to=CHANGE)
def register(request: HttpRequest, by: Actor, kind: Kind) -> HttpResponse:
    new = kind.new
    assert new is not None  # urls/looks.py gives an edge no such address
    form = new.form(sent(request), unit=by.person.unit)
    if saved(form, lambda: new.save(**form.columns(), by=by, at=timezone.now())):
        messages.success(request, f"The {kind.noun} {form.cleaned_data['name']} is registered.")
        return redirect(kind.list_page)
    context = {"title": f"Register a {kind.noun}", "back": kind.list_page}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


@page("shop", role=Role.LEAD, to="change tool edges")
def fit_edge(request: HttpRequest, by: Actor) -> HttpResponse:
    """`?lathe=` and `?slot=` fill in what the page that led here knew."""
    asked = edges_asked_about()
    form = NewEdgeForm(
        sent(request),
        unit=by.person.unit,
        lathes=lathes_in_use(),
        lathe=request.GET.get("lathe", ""),
        slot=request.GET.get("slot", ""),
        suspected=[one.name for one in asked],
        is_in_question=is_in_question(*(("edge", one.pk) for one in asked)),
    )

    def fit() -> None:
        lathe = access.lathe(form.cleaned_data["lathe"])
        told = {**form.columns(), **form.of_the_old()}
        here = (lathe.pk, told["slot"])
        if told["found"] == CauseFound.TO_BE_SEEN and here not in {
            (one.lathe_id, one.slot) for one in asked
        }:
            # No flag is about what gives way: that answer stood there for the others.
            told["found"] = CauseFound.NOT_KNOWN
        resources.fit_edge(lathe=lathe, **told, by=by, at=timezone.now())

    if saved(form, fit):
        messages.success(request, f"{form.cleaned_data['name']} is fitted. Its charts start fresh.")
        return redirect(LATHE.page, form.cleaned_data["lathe"])
    return show(request, "dashboards/shop/fit_edge.html", {}, form=form)


@page("shop", role=Role.LEAD, to=CHANGE)
def change(request: HttpRequest, by: Actor, kind: Kind, key: int) -> HttpResponse:
    resource = kind.find(key)
    form = kind.form(sent(request), unit=by.person.unit, row=resource)

    def save() -> None:
        if changes := form.changes(resource):
            seen = form.cleaned_data["version"]
            resources.change_resource(
                resource=resource, by=by, at=timezone.now(), expected_version=seen, **changes
            )

    if saved(form, save):
        messages.success(request, f"The {kind.noun} is changed.")
        return redirect(kind.page, key)
    if isinstance(getattr(form, "refusal", None), ChangedMeanwhile):
        form.look_again(kind.find(key))
    context = {"title": f"Change {resource.name}", "back": kind.page, "key": key}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


@page("shop", role=Role.LEAD, to="record service")
def service(request: HttpRequest, by: Actor, kind: Kind, key: int) -> HttpResponse:
    resource = kind.find(key)
    asked = asked_about(kind.slug, key, by)
    form = kind.service_form(
        sent(request),
        unit=by.person.unit,
        kinds=resources.SERVICE_KINDS[kind.model],
        suspected=bool(asked),
        is_in_question=is_in_question((kind.slug, key)),
    )
    if saved(
        form,
        lambda: resources.record_service(
            subject=resource, by=by, at=timezone.now(), **form.facts()
        ),
    ):
        messages.success(request, f"The service of {resource.name} is recorded.")
        return redirect("dashboards:fixture" if kind is FIXTURE else kind.page, key)
    context = {"kind": kind, "resource": resource, "suspected_by": asked}
    return show(request, "dashboards/shop/service.html", context, form=form)


@page("shop", role=Role.LEAD, to="retire a resource")
def retire(request: HttpRequest, by: Actor, kind: Kind, key: int) -> HttpResponse:
    resource = kind.find(key)
    form = RetireForm(sent(request))
    if saved(
        form,
        lambda: resources.retire(
            resource=resource, by=by, at=timezone.now(), why=form.cleaned_data["why"]
        ),
    ):
        messages.success(request, f"The {kind.noun} {resource.name} is retired.")
        return redirect(kind.page, key)
    context = {
        "name": resource.name,
        "back": kind.page,
        "key": key,
        "says": f"Its jobs keep this {kind.noun}; no new job may choose it.",
        "ended": flag_lines(ended_by_retiring(resource), by),
    }
    return show(request, "dashboards/shop/retire.html", context, form=form)
