"""Setting standards, and a gauge checked against them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.timezone import localtime

from dashboards.figures.checks import gauge_checks as checks_drawing
from dashboards.figures.checks import gauge_checks_table
from dashboards.figures.rows import CheckPoint, GaugeChecks, ServiceTick
from dashboards.forms.resources import RetireForm
from dashboards.forms.studies import CheckForm, DecisionForm, StandardForm
from dashboards.refusals import saved
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, sent, show
from dashboards.views.signing import choose_unit
from dashboards.views.study_deeds import Deed
from qc import access
from qc.actor import Actor
from qc.lookups.gauges.gauge_checks import GaugeStanding, gauge_standing
from qc.lookups.gauges.gauge_checks import standards as all_standards
from qc.lookups.pages import choices
from qc.models import Gauge, Role
from qc.operations import gauge_checks, resources

VOID_CHECK = Deed(
    "Void a check",
    "The check stays on the record, struck through, with your reason beside it.",
    "Void the check",
    "The check is void.",
)


@page("shop")
def standards(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {
        "rows": all_standards().order_by("value_mm", "name"),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/shop/standards.html", context)


@page("shop", role=Role.LEAD, to="register a standard")
def register(request: HttpRequest, by: Actor) -> HttpResponse:
    form = StandardForm(sent(request), unit=by.person.unit)

    def save() -> None:
        told = dict(form.cleaned_data)
        u = told.pop("u_mm")
        gauge_checks.register_standard(
            **told, u_mm=Decimal(0) if u is None else u.mm, by=by, at=timezone.now()
        )

    if saved(form, save):
        messages.success(request, f"The standard {form.cleaned_data['name']} is registered.")
        return redirect("dashboards:shop_standards")
    context = {
        "title": "Register a standard",
        "back": "dashboards:shop_standards",
        "says": "A block, ring or setting piece whose size a certificate states.",
    }
    return show(request, "dashboards/shop/plain_form.html", context, form=form)


@page("shop", role=Role.LEAD, to="retire a resource")
def retire(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    standard = access.standard(key)
    form = RetireForm(sent(request))

    def save() -> None:
        why = form.cleaned_data["why"]
        resources.retire(resource=standard, by=by, at=timezone.now(), why=why)

    if saved(form, save):
        messages.success(request, f"The standard {standard.name} is retired.")
        return redirect("dashboards:shop_standards")
    deed = Deed(f"Retire {standard.name}", "Checks against it stay.", "Retire it", "")
    context = {"deed": deed, "back_url": reverse("dashboards:shop_standards")}
    return show(request, "dashboards/shop/deed.html", context, form=form)


@page("shop", role=Role.OPERATOR, to="record a check")
def check(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """Checks come one after another: the page opens again on the standard just read."""
    gauge = access.gauge(key)
    form = CheckForm(
        sent(request),
        unit=by.person.unit,
        standards=choices.standards(),
        initial={"standard": request.GET.get("standard", "")},
    )

    def save() -> None:
        told = form.cleaned_data
        gauge_checks.record_check(
            gauge=gauge,
            standard=access.standard(told["standard"]),
            length=told["length"],
            confirm=told["confirm"],
            note=told["note"],
            by=by,
            at=timezone.now(),
        )

    if saved(form, save):
        choose_unit(by, form.cleaned_data["unit"])
        messages.success(request, f"{form.cleaned_data['length']} is recorded. Read it again?")
        again = reverse("dashboards:shop_gauge_check", args=[key])
        return redirect(f"{again}?standard={form.cleaned_data['standard']}")
    return show(request, "dashboards/shop/check.html", {"gauge": gauge}, form=form)


@page("shop", role=Role.OPERATOR, to="void a check")
def void_check(request: HttpRequest, by: Actor, key: int, check: int) -> HttpResponse:
    found = access.check(check, of=access.gauge(key))
    form = DecisionForm(sent(request))
    back = reverse("dashboards:shop_gauge", args=[key])

    def save() -> None:
        why = form.cleaned_data["why"]
        gauge_checks.void_check(check=found, why=why, by=by, at=timezone.now())

    if saved(form, save):
        messages.success(request, VOID_CHECK.done)
        return redirect(back)
    about = f"{found.entered_value} {found.entered_unit} on {found.standard}"
    context = {"deed": VOID_CHECK, "about": about, "back_url": back}
    return show(request, "dashboards/shop/deed.html", context, form=form)


@page("shop")
def checks_figure(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    standing = gauge_standing(access.gauge(key))
    return drawn(checks_drawing(_rows(standing), unit=by.person.unit))


def checked(gauge: Gauge, by: Actor) -> dict[str, Any]:
    """What the gauge's page says of its checks."""
    standing = gauge_standing(gauge)
    return {
        "standing": standing,
        "checks_table": gauge_checks_table(_rows(standing), unit=by.person.unit),
        "may_check": by.may(Role.OPERATOR) and not gauge.is_retired,
        "may_void_check": by.may(Role.OPERATOR),
    }


def _rows(standing: GaugeStanding) -> GaugeChecks:
    drift = standing.drift
    return GaugeChecks(
        points=tuple(
            CheckPoint(localtime(one.at), one.standard.name, float(one.value_mm), one.off_mm)
            for one in standing.checks
            if one.voided_at is None
        ),
        services=tuple(
            ServiceTick(localtime(one.at), one.get_kind_display()) for one in standing.services
        ),
        allowed_mm=drift.allowed_mm,
        line=None if drift.line is None else _local(drift.line),
    )


def _local(line: Any) -> Any:
    return tuple((localtime(at), off) for at, off in line)
