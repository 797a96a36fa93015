"""Flags: the list, one flag's page, and what people do about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.forms.flags import CloseFlagForm, DecideForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import BadInput
from qc.lookups.drift_advice import (
    TrialLine,
    Untold,
    advice_on,
    advice_on_each,
    telling_apart,
)
from qc.lookups.flags import FlagLine, flag_line, flag_lines, flag_score, flags_for
from qc.lookups.recording_gains import recording_gains
from qc.lookups.shop import shop_policy
from qc.lookups.used_together import used_together
from qc.lookups.watch_now import watch_now
from qc.models import Role
from qc.operations import decisions, flags

LISTED = 50


@page("fixtures")
def flags_list(request: HttpRequest, by: Actor) -> HttpResponse:
    closed = flags_for(by, is_open=False)
    watch = watch_now()
    context = {
        "open": flag_lines(flags_for(by, is_open=True), by),
        "closed": flag_lines(closed[:LISTED], by),
        "unlisted": max(0, closed.count() - LISTED),
        "score": flag_score(by),
        "gains": [] if watch is None else recording_gains(watch),
    }
    return show(request, "dashboards/flags/list.html", context)


@page("fixtures")
def flag(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """What seems to have moved, and who it could be."""
    line = flag_line(access.flag(key, by=by), by)
    watch = watch_now() if line.is_open else None
    told = telling_apart(line, watch) if line.is_open else None
    each = advice_on_each(line, watch)
    minutes = [pays.minutes for _, pays in each if pays is not None]
    context = {
        "line": line,
        "trial": told if isinstance(told, TrialLine) else None,
        "untold": told if isinstance(told, Untold) else None,
        "each": each,
        "each_minutes": minutes,
        "all_minutes": sum(minutes),
        "together": used_together(line),
        "pays": None if watch is None else advice_on(line, watch),
        "policy": shop_policy(),
        "may_record": by.may(Role.OPERATOR),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/flags/flag.html", context)


@page("fixtures", role=Role.LEAD, to="decide about a flag")
def decide(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _answered(request, by, key, DECIDE)


@page("fixtures", role=Role.LEAD, to="close a flag")
def close(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _answered(request, by, key, CLOSE)


@require_POST
@page("fixtures", role=Role.OPERATOR, to="look into a flag")
def look_into(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    flag = access.flag(key, by=by)
    try:
        flags.look_into(flag=flag, by=by, at=timezone.now())
        messages.success(request, "The others see that it is being looked into.")
    except BadInput as error:
        messages.error(request, str(error))
    return redirect("dashboards:flag", key)


@dataclass(frozen=True)
class Answering:
    """A form that leads answer a flag with. form: from what was sent and the flag. save: takes
    flag, by, at and the form's fields."""

    form: Callable[[QueryDict | None, FlagLine], forms.Form]
    save: Callable[..., object]
    template: str
    done: str


DECIDE = Answering(
    lambda data, _: DecideForm(data), decisions.answer, "decide", "What was decided is on record."
)
CLOSE = Answering(
    lambda data, line: CloseFlagForm(data, suspects=line.suspects),
    flags.close_flag,
    "close",
    "The flag is closed. The watch starts afresh from here.",
)


def _answered(request: HttpRequest, by: Actor, key: int, how: Answering) -> HttpResponse:
    flag = access.flag(key, by=by)
    line = flag_line(flag, by)
    form = how.form(sent(request), line)
    if saved(form, lambda: how.save(flag=flag, by=by, at=timezone.now(), **form.cleaned_data)):
        messages.success(request, how.done)
        return redirect("dashboards:flag", key)
    template = f"dashboards/flags/{how.template}.html"
    return show(request, template, {"line": line}, form=form)
