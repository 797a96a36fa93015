"""Charts for a wish: so few false flags, and a shift found soon; a lead may take one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.text import capfirst

from dashboards.figures.designs import finding_curves, finding_table
from dashboards.figures.rows import FindingCurve
from dashboards.forms.statistics import TakeDesignForm, WishForm, wish_as_typed
from dashboards.refusals import refuse, saved
from dashboards.views.design_words import NAMES, settings_in_words
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, sent, shop_of, show
from qc.actor import Actor
from qc.errors import BadInput, ShopError
from qc.lookups.charts.designs import (
    ChartWish,
    DesignRow,
    PatternRow,
    design_in_force,
    designs_for,
    patterns_for,
    usual_wish,
)
from qc.models import Role
from qc.operations.designing import take_design

LONGEST = 120  # jobs that the drawing shows at the most


@page("accuracy")
def designs(request: HttpRequest, by: Actor) -> HttpResponse:
    form = WishForm(_asked(request, by), unit=by.person.unit)
    return _shown(request, by, form)


@page("accuracy")
def designs_figure(request: HttpRequest, by: Actor) -> HttpResponse:
    form = WishForm(_asked(request, by), unit=by.person.unit)
    rows: list[DesignRow] = []
    if form.is_valid():
        try:
            rows = designs_for(form.wish())
        except ShopError:
            rows = []  # the page beside the drawing says why
    return drawn(finding_curves(_curves(rows)))


@page("accuracy", role=Role.LEAD, to="choose the shop's charts")
def take(request: HttpRequest, by: Actor) -> HttpResponse:
    form = TakeDesignForm(sent(request), unit=by.person.unit)

    def save() -> None:
        wanted = form.cleaned_data["chart"]
        row = next((one for one in designs_for(form.wish()) if one.key == wanted), None)
        if row is None:
            raise BadInput(why="Choose one of the charts in the table.", fields=("chart",))
        take_design(design=row.design, by=by, at=timezone.now(), why=form.cleaned_data["why"])

    if saved(form, save):
        messages.success(request, "Taken. The shop's charts are judged by it from now on.")
        return redirect("dashboards:shop_settings")
    asked = WishForm(form.data or _asked(request, by), unit=by.person.unit)
    return _shown(request, by, asked, take_form=form)


def _asked(request: HttpRequest, by: Actor) -> Mapping[str, Any]:
    """What is asked for; at first, what the shop's season and its own scatter say."""
    if request.GET:
        return request.GET
    usual = usual_wish(shop_of(request), now=timezone.now())
    return wish_as_typed(usual, by.person.unit)


def _shown(
    request: HttpRequest, by: Actor, form: WishForm, *, take_form: TakeDesignForm | None = None
) -> HttpResponse:
    rows, now, wish, patterns = [], None, None, []
    if form.is_valid():
        wish = form.wish()
        try:
            rows, now = designs_for(wish), design_in_force(shop_of(request), wish)
            patterns = patterns_for(shop_of(request), wish)
        except ShopError as error:
            refuse(form, error)
    elif not request.GET and request.method == "GET":
        form.errors.clear()  # nobody asked yet: the shop's own scatter is not known
    unit = by.person.unit
    in_force = now and wish and _line(now, wish, unit)
    if now and in_force:
        in_force["settings"].append(f"false flag {now.pace}")
    context = {
        "form": form,
        "take_form": take_form or TakeDesignForm(unit=unit),
        "kept": [(name, form[name].value()) for name in WishForm.base_fields],
        "wish": wish,
        "rows": [_line(row, wish, unit) for row in rows] if wish else [],
        "now": in_force,
        "patterns": [_pattern_line(row, wish) for row in patterns] if wish else [],
        "patterns_signal": any(row.is_chosen for row in patterns),
        "table": finding_table(_curves(rows)),
        "query": "?" + request.GET.urlencode() if request.GET else "",
        "is_lead": by.may(Role.LEAD),
    }
    bad = bool(form.errors) or bool(take_form and take_form.is_bound and take_form.errors)
    return show(request, "dashboards/accuracy/designs.html", context, status=422 if bad else 200)


def _line(row: DesignRow, wish: ChartWish, unit: str) -> dict[str, Any]:
    return {
        "key": row.key,
        "name": NAMES[row.key],
        "settings": settings_in_words(row, sigma_mm=wish.sigma_mm, unit=unit),
        "pace": row.pace,
        "can_be_taken": row.can_be_taken,
        **_outlook(row, wish),
    }


def _pattern_line(row: PatternRow, wish: ChartWish) -> dict[str, Any]:
    return {
        "name": capfirst(row.rule_set.label),
        "settings": [f"{row.pace} ({row.outlook.false.arl:.0f} jobs)"],
        "is_chosen": row.is_chosen,
        **_outlook(row, wish),
    }


def _outlook(row: DesignRow | PatternRow, wish: ChartWish) -> dict[str, Any]:
    outlook = row.outlook
    return {
        "later": outlook.later.arl,
        "later_half": outlook.later.quantile(0.5),
        "later_most": outlook.later.quantile(0.9),
        "within": outlook.later.within(wish.within_jobs),
        "at_start": outlook.at_start.arl,
        "false_tenth": outlook.false.quantile(0.1),
        "false_half": outlook.false.quantile(0.5),
    }


def _curves(rows: list[DesignRow]) -> tuple[FindingCurve, ...]:
    """As many jobs as the quickest chart needs to be nearly sure, and half as many again."""
    if not rows:
        return ()
    jobs = min(LONGEST, max(8, round(1.5 * rows[0].design.outlook.later.quantile(0.99))))
    return tuple(
        FindingCurve(
            NAMES[row.key],
            tuple(row.design.outlook.later.within(n) for n in range(jobs + 1)),
        )
        for row in rows
    )
