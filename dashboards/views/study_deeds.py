"""What is done to a gauge study with a reason: void, leave out, close, take, set aside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from dashboards.forms.studies import DecisionForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.models import Role
from qc.operations import study_trials, study_use


@dataclass(frozen=True)
class Deed:
    """A page that asks for a reason, and the sentence shown when it is done."""

    title: str
    says: str
    button: str
    done: str


VOID = Deed(
    "Void a reading",
    "The reading stays on the record, struck through, with your reason beside it. While the study "
    "is open its turn comes up again; in a closed one the result is worked out anew.",
    "Void the reading",
    "The reading is void.",
)
LEAVE_OUT = Deed(
    "Leave a turn out",
    "For a piece that was lost or spoilt. The study counts what the others read of it.",
    "Leave it out",
    "Left out.",
)
CLOSE = Deed(
    "Close the study",
    "Nothing more goes into it, and its readings and its result are shown to everyone. A reason is "
    "needed only while turns are still unread.",
    "Close it",
    "The study is closed.",
)
TAKE = Deed(
    "Take it as the shop's",
    "Jobs measured with its gauges from now on count in what it found: how readings repeat and how "
    "hands differ. Results that are on record stay as they are.",
    "Take it",
    "In force for jobs measured from now on.",
)
SET_ASIDE = Deed(
    "Set the study aside",
    "Jobs measured from now on use the shop's usual figures again. Results on record stay.",
    "Set it aside",
    "Set aside.",
)


@page("shop", role=Role.OPERATOR, to="void a reading of a study")
def void(request: HttpRequest, by: Actor, key: int, reading: int) -> HttpResponse:
    found = access.study_reading(reading, of=access.study(key))
    about = f"Piece {found.turn.part}, {found.turn.person}, turn {found.turn.order}"
    do = partial(study_trials.void_trial, reading=found, by=by)
    return _deed(request, VOID, key, do, about=about)


@page("shop", role=Role.OPERATOR, to="record readings")
def leave_out(request: HttpRequest, by: Actor, key: int, turn: int) -> HttpResponse:
    found = access.study_turn(turn, of=access.study(key))
    about = f"Piece {found.part}, {found.person}, turn {found.order}"
    do = partial(study_trials.leave_out, turn=found, by=by)
    return _deed(request, LEAVE_OUT, key, do, about=about)


@page("shop", role=Role.LEAD, to="close a gauge study")
def close(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _to_the_whole(request, CLOSE, key, partial(study_use.close_study, by=by))


@page("shop", role=Role.LEAD, to="take a study as the shop's")
def take(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _to_the_whole(request, TAKE, key, partial(study_use.take_study, by=by))


@page("shop", role=Role.LEAD, to="set a study aside")
def put_aside(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _to_the_whole(request, SET_ASIDE, key, partial(study_use.set_aside, by=by))


def _to_the_whole(
    request: HttpRequest, deed: Deed, key: int, do: Callable[..., object]
) -> HttpResponse:
    study = access.study(key)
    return _deed(request, deed, key, partial(do, study=study), about=study.name)


def _deed(
    request: HttpRequest, deed: Deed, key: int, do: Callable[..., object], *, about: str
) -> HttpResponse:
    """do: takes the reason as `why`, and `at`."""
    form = DecisionForm(sent(request))
    back = reverse("dashboards:shop_study", args=[key])
    if saved(form, lambda: do(why=form.cleaned_data["why"], at=timezone.now())):
        messages.success(request, deed.done)
        return redirect(back)
    context = {"deed": deed, "about": about, "back_url": back}
    return show(request, "dashboards/shop/deed.html", context, form=form)
