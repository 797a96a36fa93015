"""Signing in and out, and a person's own page: the unit they like and their password."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters

from dashboards.forms.signing import PasswordForm, SignInForm, UnitForm
from dashboards.refusals import UNSOUND, saved, status_for
from dashboards.views.ground import page, show
from qc.actor import Actor
from qc.lookups.watch.own_jobs import own_rounds
from qc.models import Role
from qc.operations import people
from qc.units import Unit

TOO_MANY = 429


class SignIn(LoginView):
    template_name = "dashboards/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: Any) -> HttpResponse:
        status = TOO_MANY if form.has_error("__all__", "held_back") else UNSOUND
        return self.render_to_response(self.get_context_data(form=form), status=status)


class SignOut(LogoutView):
    """By POST alone, so that no link can sign anyone out."""

    next_page = "dashboards:sign_in"


@sensitive_post_parameters()
@page("")
def me(request: HttpRequest, by: Actor) -> HttpResponse:
    """Two forms, told apart by the button that sent them."""
    sent = request.POST.get("save")
    unit = UnitForm(request.POST if sent == "unit" else None, initial={"unit": by.person.unit})
    password = PasswordForm(request.POST if sent == "password" else None, person=by.person)
    if saved(unit, lambda: choose_unit(by, unit.cleaned_data["unit"])):
        messages.success(request, "Lengths are shown in that unit from now on.")
        return redirect("dashboards:me")
    if saved(password, lambda: _change_password(by, password.cleaned_data["password"])):
        update_session_auth_hash(request, by.person)
        messages.success(request, "Your password is changed.")
        return redirect("dashboards:me")
    context = {
        "unit_form": unit,
        "password_form": password,
        "has_jobs": own_rounds("person", by.person.pk).exists(),
    }
    status = max(status_for(unit), status_for(password))
    return show(request, "dashboards/me.html", context, status=status)


def _change_password(by: Actor, password: str) -> None:
    people.change_password(person=by.person, password=password, by=by, at=timezone.now())


def choose_unit(by: Actor, unit: str) -> None:
    """Remember the unit a person works in; a form they saved in another unit says so too."""
    if unit == by.person.unit:
        return
    people.change_person(
        person=by.person,
        by=by,
        at=timezone.now(),
        role=Role(by.person.role),
        is_active=by.person.is_active,
        unit=Unit(unit),
    )
