"""Engine families, and the cylinders that came in."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.forms.families import BuretteForm, FamilyForm, WindowsForm
from dashboards.forms.resources import RetireForm
from dashboards.refusals import saved
from dashboards.telling import journal_lines
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import ChangedMeanwhile
from qc.lookups.record.effects import burette_of
from qc.lookups.record.engines import (
    clocking_answer,
    cylinder_page,
    cylinder_rows,
    cylinders_filtered,
    family_page,
    family_rows,
    windows_of,
)
from qc.models import EngineFamily, Role
from qc.operations import engines

CYLINDERS_A_PAGE = 25


@page("shop")
def families(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {"rows": family_rows(), "is_lead": by.may(Role.LEAD)}
    return show(request, "dashboards/shop/families.html", context)


@page("shop")
def family(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    found = family_page(access.family(key))
    parts = FamilyForm.read(found.row.family, by.person.unit)
    context = {
        "page": found,
        "parts": parts,
        "journal": journal_lines(found.journal),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/shop/family.html", context)


@page("shop", role=Role.LEAD, to="add an engine family")
def add_family(request: HttpRequest, by: Actor) -> HttpResponse:
    form = FamilyForm(sent(request), unit=by.person.unit)
    if saved(form, lambda: engines.add_family(by=by, at=timezone.now(), **form.columns())):
        messages.success(request, f"The family {form.cleaned_data['name']} is added.")
        return redirect("dashboards:shop_families")
    context = {"title": "Add an engine family", "back": "dashboards:shop_families"}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


@page("shop", role=Role.LEAD, to="change an engine family")
def change_family(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    family = access.family(key)
    form = FamilyForm(sent(request), unit=by.person.unit, row=family)

    def save() -> None:
        if changes := form.changes(family):
            seen = form.cleaned_data["version"]
            engines.change_family(
                family=family, by=by, at=timezone.now(), expected_version=seen, **changes
            )

    if saved(form, save):
        messages.success(request, "The family is changed, for the jobs to come.")
        return redirect("dashboards:shop_family", key)
    if isinstance(getattr(form, "refusal", None), ChangedMeanwhile):
        form.look_again(access.family(key))
    context = {"title": f"Change {family.name}", "back": "dashboards:shop_family", "key": key}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


@page("shop")
def burette(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """The sum of a burette reading. It is asked for by address, and keeps nothing."""
    family = access.family(key)
    form = BuretteForm(request.GET if "filled_cc" in request.GET else None)
    return _show_burette(request, by, family, form)


@require_POST
@page("shop", role=Role.LEAD, to="change an engine family")
def keep_burette(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """Make the measured volume the family's clearance volume."""
    family = access.family(key)
    form = BuretteForm(request.POST)

    def save() -> None:
        told = form.cleaned_data
        engines.keep_burette_reading(
            family=family,
            filled_cc=told["filled_cc"],
            plug_well_cc=told["plug_well_cc"],
            by=by,
            at=timezone.now(),
            expected_version=told["version"] or 0,
        )

    if saved(form, save):
        messages.success(request, "It is the family's clearance volume, for the plans to come.")
        return redirect("dashboards:shop_family", key)
    return _show_burette(request, by, family, form)


def _show_burette(
    request: HttpRequest, by: Actor, family: EngineFamily, form: BuretteForm
) -> HttpResponse:
    found: list[object] = []

    def work_out() -> None:
        told = form.cleaned_data
        found.append(
            burette_of(family, filled_cc=told["filled_cc"], plug_well_cc=told["plug_well_cc"])
        )

    # What could not be kept, because somebody changed the family first, can still be worked out.
    refusal = getattr(form, "refusal", None)
    if refusal is None:
        saved(form, work_out)
    elif isinstance(refusal, ChangedMeanwhile):
        work_out()
    context = {"family": family, "found": found, "is_lead": by.may(Role.LEAD)}
    return show(request, "dashboards/shop/burette.html", context, form=form)


@page("shop", role=Role.LEAD, to="change an engine family")
def windows(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    family = access.family(key)
    form = WindowsForm(sent(request), unit=by.person.unit, windows=windows_of(family))
    if saved(
        form,
        lambda: engines.set_windows(
            family=family, windows=form.windows(), by=by, at=timezone.now()
        ),
    ):
        messages.success(request, "The windows are kept, for the plans to come.")
        return redirect("dashboards:shop_family", key)
    return show(request, "dashboards/shop/windows.html", {"family": family}, form=form)


@page("shop", role=Role.LEAD, to="retire an engine family")
def retire_family(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    family = access.family(key)
    form = RetireForm(sent(request))
    if saved(
        form,
        lambda: engines.retire_family(
            family=family, by=by, at=timezone.now(), why=form.cleaned_data["why"]
        ),
    ):
        messages.success(request, f"The family {family.name} is retired.")
        return redirect("dashboards:shop_family", key)
    context = {
        "name": family.name,
        "back": "dashboards:shop_family",
        "key": key,
        "says": "Its jobs and cylinders keep it; no new job may be opened on it.",
    }
    return show(request, "dashboards/shop/retire.html", context, form=form)


@page("shop")
def cylinders(request: HttpRequest, by: Actor) -> HttpResponse:
    words = request.GET.get("words", "")
    sheets = Paginator(cylinders_filtered(words), CYLINDERS_A_PAGE)
    sheet = sheets.get_page(request.GET.get("page"))
    context = {"words": words, "sheet": sheet, "rows": cylinder_rows(sheet)}
    return show(request, "dashboards/shop/cylinders.html", context)


@page("shop")
def cylinder(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    asked = access.cylinder(key)
    context = {
        "page": cylinder_page(asked),
        "clocking": clocking_answer(asked),
    }
    return show(request, "dashboards/shop/cylinder.html", context)
