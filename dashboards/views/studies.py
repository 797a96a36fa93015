"""Gauge studies: listed, opened, read turn by turn, and what a closed one says."""

from __future__ import annotations

import secrets
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from dashboards.figures.study import study_dots, study_dots_table
from dashboards.forms.studies import StudyForm, TrialForm
from dashboards.refusals import saved
from dashboards.telling import journal_lines
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, sent, show
from dashboards.views.signing import choose_unit
from dashboards.views.study_rows import dots_of
from qc import access
from qc.actor import Actor
from qc.errors import AlreadyThere, NotItsTurn, NotThere
from qc.lookups.gauges.gauge_studies import (
    StudyRecord,
    next_turn,
    study_record,
    study_rows,
)
from qc.lookups.pages import choices
from qc.lookups.shop.resources import journal_of
from qc.models import Person, Role, StudyTurn
from qc.operations import gauge_studies, study_trials


@page("shop")
def studies(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {"rows": study_rows(), "is_lead": by.may(Role.LEAD)}
    return show(request, "dashboards/shop/studies.html", context)


@page("shop", role=Role.LEAD, to="open a gauge study")
def open_study(request: HttpRequest, by: Actor) -> HttpResponse:
    form = StudyForm(
        sent(request),
        unit=by.person.unit,
        gauges=choices.gauges(on=timezone.localdate()),
        people=choices.recorders(),
        initial={"parts": 6, "trials": 2},
    )

    def save() -> None:
        told = dict(form.cleaned_data)
        told["gauges"] = [access.gauge(key) for key in told["gauges"]]
        told["people"] = [access.person(key) for key in told["people"]]
        form.study = gauge_studies.open_study(  # type: ignore[attr-defined]
            **told, seed=secrets.randbelow(2**31), by=by, at=timezone.now()
        )

    if saved(form, save):
        messages.success(request, "The order is drawn. Each person reads what the page hands out.")
        return redirect("dashboards:shop_study", form.study.pk)  # type: ignore[attr-defined]
    return show(request, "dashboards/shop/study_new.html", {}, form=form)


@page("shop")
def study(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    record = study_record(access.study(key))
    context = {
        "record": record,
        "study": record.study,
        "is_lead": by.may(Role.LEAD),
        "may_record": by.may(Role.OPERATOR),
        "may_void": by.may(Role.OPERATOR if record.study.is_open else Role.LEAD),
    }
    if not record.study.is_open:
        context["journal"] = journal_lines(
            one for one in journal_of(record.study) if one.action != "study.read"
        )
        context["table"] = study_dots_table(dots_of(record), unit=by.person.unit)
    return show(request, "dashboards/shop/study.html", context)


@page("shop")
def dots_figure(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """Only of a closed study: an open one is blind."""
    record = study_record(access.study(key))
    if record.study.is_open:
        raise NotThere(what="drawing")
    return drawn(study_dots(dots_of(record), unit=by.person.unit))


@page("shop", role=Role.OPERATOR, to="record readings")
def read(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """`?person=` whose turn it is; else the one who is signed in."""
    found = access.study(key)
    record = study_record(found)
    person = _whose(record, request.GET.get("person"), by)
    turn = None if person is None or not found.is_open else next_turn(found, person)
    if person is None or turn is None:
        return redirect("dashboards:shop_study", key)
    here = f"{reverse('dashboards:shop_study_read', args=[key])}?person={person.pk}"
    form = TrialForm(sent(request), unit=by.person.unit, initial={"turn": turn.order})

    def save() -> None:
        study_trials.record_trial(
            turn=access.study_turn(form.cleaned_data["turn"], of=found),
            length=form.cleaned_data["length"],
            confirm=form.cleaned_data["confirm"],
            by=by,
            at=timezone.now(),
        )

    if saved(form, save):
        choose_unit(by, form.cleaned_data["unit"])
        return redirect(here)
    refusal = getattr(form, "refusal", None)
    if isinstance(refusal, NotItsTurn | AlreadyThere):
        # The page moved on to another piece: what was typed for this one must not stay in it.
        messages.error(request, f"{form.cleaned_data['length']} was not saved. {refusal}")
        return redirect(here)
    return show(
        request, "dashboards/shop/study_read.html", _reading(record, person, turn), form=form
    )


def _reading(record: StudyRecord, person: Person, turn: StudyTurn) -> dict[str, Any]:
    [hand] = [one for one in record.hands if one.person == person]
    own = [
        one for one in record.readings if one.turn.person_id == person.pk and one.voided_at is None
    ]
    return {
        "study": record.study,
        "hand": hand,
        "turn": turn,
        "number": hand.read + hand.left_out + 1,
        "last": max(own, key=lambda one: (one.at, one.pk), default=None),
        "others": [one for one in record.hands if one.person != person and one.next],
    }


def _whose(record: StudyRecord, asked: str | None, by: Actor) -> Person | None:
    """The hand named in the address; without one, whoever is signed in."""
    wanted = asked or str(by.person.pk)
    return next((one.person for one in record.hands if str(one.person.pk) == wanted), None)
