"""People and bench tokens, for leads; everyone may make tokens for themselves."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from dashboards.forms.people import NewPersonForm, PersonForm, SetPasswordForm, TokenForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, shop_of, show
from qc import access
from qc.actor import Actor
from qc.lookups.pages import shop
from qc.lookups.watch.own_jobs import people_with_jobs
from qc.models import Role
from qc.operations import people
from qc.units import Unit

CHANGE = "change what a person may do"


@page("shop")
def people_list(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {
        "rows": list(shop.people()),
        "with_jobs": people_with_jobs(),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/shop/people.html", context)


@sensitive_post_parameters("password")
@page("shop", role=Role.LEAD, to="add people")
def add(request: HttpRequest, by: Actor) -> HttpResponse:
    form = NewPersonForm(sent(request), initial={"unit": shop_of(request).unit})
    if saved(form, lambda: people.add_person(**form.cleaned_data, by=by, at=timezone.now())):
        messages.success(request, f"{form.cleaned_data['username']} can sign in now.")
        return redirect("dashboards:shop_people")
    context = {"title": "Add a person", "back": "dashboards:shop_people"}
    return show(request, "dashboards/shop/plain_form.html", context, form=form)


@page("shop", role=Role.LEAD, to=CHANGE)
def change(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    person = access.person(key)
    starts = {"role": person.role, "unit": person.unit, "is_active": person.is_active}
    form = PersonForm(sent(request), initial=starts)

    def save() -> None:
        told = form.cleaned_data
        people.change_person(
            person=person,
            by=by,
            at=timezone.now(),
            role=Role(told["role"]),
            is_active=told["is_active"],
            unit=Unit(told["unit"]),
        )

    if saved(form, save):
        messages.success(request, f"{person.name} is changed.")
        return redirect("dashboards:shop_people")
    context = {"title": f"Change {person.name}", "back": "dashboards:shop_people"}
    return show(request, "dashboards/shop/plain_form.html", context, form=form)


@sensitive_post_parameters("password")
@page("shop", role=Role.LEAD, to="set another person's password")
def set_password(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    person = access.person(key)
    form = SetPasswordForm(sent(request))
    if saved(
        form,
        lambda: people.change_password(
            person=person, password=form.cleaned_data["password"], by=by, at=timezone.now()
        ),
    ):
        messages.success(request, f"{person.name} signs in with the new password from now on.")
        return redirect("dashboards:shop_people")
    context = {"title": f"A new password for {person.name}", "back": "dashboards:shop_people"}
    return show(request, "dashboards/shop/plain_form.html", context, form=form)


@page("shop")
def tokens(request: HttpRequest, by: Actor) -> HttpResponse:
    rows = list(shop.tokens(of=None if by.may(Role.LEAD) else by.person))
    return show(request, "dashboards/shop/tokens.html", {"rows": rows})


@never_cache
@page("shop")
def make_token(request: HttpRequest, by: Actor) -> HttpResponse:
    """The key is in this one answer and nowhere else: only its hash is kept."""
    form = TokenForm(sent(request), by=by, people=shop.may_act_for(by))
    made = []

    def make() -> None:
        told = form.cleaned_data
        made.append(
            people.make_token(
                person=access.person(told["person"]),
                name=told["name"],
                role=Role(told["role"]),
                by=by,
                at=timezone.now(),
            )
        )

    if saved(form, make):
        token, key = made[0]
        return show(request, "dashboards/shop/token_made.html", {"token": token, "key": key})
    context = {"title": "Make a bench token", "back": "dashboards:shop_tokens"}
    return show(request, "dashboards/shop/plain_form.html", context, form=form)


@require_POST
@page("shop")
def revoke_token(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    token = people.revoke_token(token=access.token(key), by=by, at=timezone.now())
    messages.success(request, f"The token {token.name} no longer opens anything.")
    return redirect("dashboards:shop_tokens")
