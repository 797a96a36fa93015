"""Flags: the list, one flag's page, and what people do about it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.forms.flags import CloseFlagForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import BadInput
from qc.lookups.flags import flag_line
from qc.models import FlagState, Role
from qc.operations import flags


@page("fixtures")
def flag(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """What seems to have moved, and who it could be."""
    context = {
        "line": flag_line(access.flag(key, by=by), by),
        "may_record": by.may(Role.OPERATOR),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/flags/flag.html", context)


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


@page("fixtures", role=Role.LEAD, to="close a flag")
def close(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    flag = access.flag(key, by=by)
    form = CloseFlagForm(sent(request))
    if saved(
        form,
        lambda: flags.close_flag(
            flag=flag,
            state=FlagState(form.cleaned_data["state"]),
            why=form.cleaned_data["why"],
            by=by,
            at=timezone.now(),
        ),
    ):
        messages.success(request, "The flag is closed. The watch starts afresh from here.")
        return redirect("dashboards:flag", key)
    return show(request, "dashboards/flags/close.html", {"line": flag_line(flag, by)}, form=form)
