"""What every page stands on: who asks, how far they reach, and the shop's name, clock and unit.

    @page("jobs")
    def jobs(request: HttpRequest, by: Actor) -> HttpResponse:
        return show(request, "dashboards/jobs/list.html", {"rows": ...})

A page with a form reads `form = SomeForm(sent(request), unit=by.person.unit)`, then
`if saved(form, lambda: operation(...))` (refusals.py), then redirects or shows the form again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone

from dashboards.refusals import status_for
from qc.actor import Actor
from qc.errors import NotAllowed, NotThere
from qc.lookups.shop.policy import shop_policy
from qc.models import Role, ShopPolicy

View = Callable[..., HttpResponse]
ViewOfActor = Callable[[View], View]


def page(section: str, *, role: Role = Role.VIEWER, to: str = "see this page") -> ViewOfActor:
    """Give the view the signed-in Actor as its second argument.

    section: which of the main links is marked, or "": today, jobs, fixtures, flags, accuracy, shop.
    role, to: who may open the page at all, and what it lets them do, for the refusal's sentence.
    A visitor goes to sign in and comes back. NotThere and NotAllowed, wherever the view raises
    them, become the pages for 404 and 403. Times are printed on the shop's clock.
    """

    def decorate(view: View) -> View:
        @login_required
        @wraps(view)
        def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            request.section = section  # type: ignore[attr-defined]
            by = Actor(request.user)  # type: ignore[arg-type]
            with timezone.override(ZoneInfo(shop_of(request).time_zone)):
                try:
                    by.must_be(role, to=to)
                    return view(request, by, *args, **kwargs)
                except NotThere as error:
                    raise Http404(str(error)) from error
                except NotAllowed as error:
                    raise PermissionDenied(str(error)) from error

        return answer

    return decorate


def show(
    request: HttpRequest,
    template: str,
    context: Mapping[str, Any] | None = None,
    *,
    form: forms.Form | None = None,
    status: int | None = None,
) -> HttpResponse:
    """The page, with `form` in its context and the status that form asks for."""
    told = {**(context or {}), **({} if form is None else {"form": form})}
    if status is None:
        status = 200 if form is None else status_for(form)
    return render(request, template, told, status=status)


def sent(request: HttpRequest) -> QueryDict | None:
    """What a form was sent with, empty or not; None for a page that is only looked at."""
    return request.POST if request.method == "POST" else None


def shop_of(request: HttpRequest) -> ShopPolicy:
    """The shop's policy, read once a request."""
    known: ShopPolicy | None = getattr(request, "shop", None)
    if known is None:
        known = request.shop = shop_policy()  # type: ignore[attr-defined]
    return known
