"""Flags: the list, one flag's page, and what people do about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.forms.flags import CloseFlagForm, DecideForm, FindingForm
from dashboards.refusals import saved
from dashboards.telling import journal_lines
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import BadInput
from qc.lookups.flags.drift_advice import advice_on, each_weighed
from qc.lookups.flags.flag_score import flag_score
from qc.lookups.flags.lines import FlagLine, SuspectLine
from qc.lookups.flags.reindications import waiting_on
from qc.lookups.flags.telling_apart import (
    Apart,
    Untold,
    telling_apart,
)
from qc.lookups.flags.told import (
    flag_line,
    flag_lines,
    flags_for,
)
from qc.lookups.flags.used_together import used_together
from qc.lookups.record.journal import flag_journal
from qc.lookups.shop.listings import jobs_to_set_up
from qc.lookups.shop.policy import shop_policy
from qc.lookups.watch.recording_gains import recording_gains
from qc.lookups.watch.watch_now import watch_now
from qc.lookups.watch.worked_in import is_worked_in
from qc.models import Flag, Role
from qc.operations import decisions, flag_ends, flags

LISTED = 50


@page("flags")
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


@page("flags")
def flag(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """What seems to have moved, and who it could be."""
    found = access.flag(key, by=by)
    line = flag_line(found, by)
    watch = watch_now() if line.is_open else None
    told = telling_apart(line, watch) if line.is_open else None
    each = each_weighed(line, watch)
    minutes = [one.pays.minutes for one in each if one.pays is not None]
    context = {
        "line": line,
        "apart": told if isinstance(told, Apart) else None,
        "waiting": jobs_to_set_up(3) if isinstance(told, Apart) else [],
        "untold": told if isinstance(told, Untold) else None,
        "each": each,
        "each_minutes": minutes,
        "is_risk_told": any(one.if_it is not None for one in each),
        "all_minutes": sum(minutes),
        "together": used_together(line),
        "is_worked_in": is_worked_in(found),
        "reported": waiting_on(line) if line.is_open else [],
        "pays": None if watch is None else advice_on(line, watch),
        "policy": shop_policy(),
        "may_record": by.may(Role.OPERATOR),
        "is_lead": by.may(Role.LEAD),
        "history": journal_lines(flag_journal(found), only=("until",)),
    }
    return show(request, "dashboards/flags/flag.html", context)


@page("flags", role=Role.LEAD, to="decide about a flag")
def decide(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _answered(request, by, key, DECIDE)


@page("flags", role=Role.LEAD, to="close a flag")
def close(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _answered(request, by, key, CLOSE)


@page("flags", role=Role.LEAD, to="say what came of a flag")
def finding(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _answered(request, by, key, FINDING)


@require_POST
@page("flags", role=Role.OPERATOR, to="look into a flag")
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
    flag, by, at and what `facts` makes of the form. done: what to say of the flag as it is then."""

    form: Callable[[QueryDict | None, FlagLine], Any]
    facts: Callable[[Any], dict[str, Any]]
    save: Callable[..., object]
    template: str
    done: Callable[[Flag], str]


def _decided(form: DecideForm) -> dict[str, Any]:
    told = dict(form.cleaned_data)
    return {"expected_version": told.pop("version"), **told}


def _closed(flag: Flag) -> str:
    if flag.is_open:
        return "What was in order is on record. The flag stays open for the others."
    return "The flag is closed. The watch starts afresh from here."


def _could_be(line: FlagLine) -> list[SuspectLine]:
    """In which a cause may have lain: its suspects, and what was serviced."""
    event = line.flag.service
    if event is None or event.about in [(one.kind, one.key) for one in line.suspects]:
        return list(line.suspects)
    return [*line.suspects, SuspectLine(*event.about, event.subject.name, None)]


DECIDE = Answering(
    lambda data, line: DecideForm(data, is_accepted=line.is_accepted),
    _decided,
    decisions.answer,
    "decide",
    lambda _: "What was decided is on record.",
)
CLOSE = Answering(
    lambda data, line: CloseFlagForm(data, suspects=line.suspects),
    lambda form: form.cleaned_data,
    flags.close_flag,
    "close",
    _closed,
)
FINDING = Answering(
    lambda data, line: FindingForm(data, suspects=_could_be(line)),
    lambda form: form.facts(),
    flag_ends.say_finding,
    "finding",
    lambda _: "What came of it is on record, and counts in the score.",
)


def _answered(request: HttpRequest, by: Actor, key: int, how: Answering) -> HttpResponse:
    flag = access.flag(key, by=by)
    form = how.form(sent(request), flag_line(flag, by))
    if saved(form, lambda: how.save(flag=flag, by=by, at=timezone.now(), **how.facts(form))):
        messages.success(request, how.done(access.flag(key, by=by)))
        return redirect("dashboards:flag", key)
    # As it is now: somebody may have answered meanwhile.
    line = flag_line(access.flag(key, by=by), by)
    watch = watch_now() if line.is_open else None
    each = each_weighed(line, watch)
    context = {
        "line": line,
        "pays": None if watch is None else advice_on(line, watch),
        "each": each if any(one.pays for one in each) else [],
        "policy": shop_policy(),
    }
    return show(request, f"dashboards/flags/{how.template}.html", context, form=form)
