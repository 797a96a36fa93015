"""People, how far they reach, and the tokens of bench tools."""

from __future__ import annotations

from typing import Any

from django import forms

from dashboards.forms.bench import UNITS, offered
from qc.actor import Actor
from qc.lookups.pages.choices import Choice
from qc.models import Role, powers

REACH = {
    Role.OPERATOR: "Operator: records jobs",
    Role.LEAD: "Lead: also releases, services and changes the shop's things",
    Role.VIEWER: "Viewer: only looks",
}
NEW_PASSWORD = forms.PasswordInput(attrs={"autocomplete": "new-password"})


def role_field(label: str = "Role") -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=[(one.value, REACH[one]) for one in REACH], widget=forms.RadioSelect
    )


def password_field() -> forms.CharField:
    return forms.CharField(
        label="Password",
        strip=False,
        widget=NEW_PASSWORD,
        help_text="Eight characters or more, not only digits. They can change it themselves.",
    )


class NewPersonForm(forms.Form):
    username = forms.CharField(label="Sign-in name", max_length=40)
    name = forms.CharField(
        label="Name", max_length=80, required=False, help_text="As records shall show it."
    )
    email = forms.EmailField(label="E-mail", required=False)
    role = role_field()
    unit = forms.ChoiceField(label="Show lengths in", choices=UNITS, widget=forms.RadioSelect)
    password = password_field()


class PersonForm(forms.Form):
    role = role_field()
    unit = forms.ChoiceField(label="Show lengths in", choices=UNITS, widget=forms.RadioSelect)
    is_active = forms.BooleanField(
        label="May sign in",
        required=False,
        help_text="Without this the account is closed: its records stay, its tokens stop working.",
    )


class SetPasswordForm(forms.Form):
    password = password_field()


class TokenForm(forms.Form):
    """`people` are those it may act for; nobody makes a token that reaches further than they do."""

    name = forms.CharField(
        label="Bench tool",
        max_length=80,
        help_text="Such as: indicator station at the north lathe.",
    )
    person = forms.TypedChoiceField(label="Acts for", coerce=int)
    role = role_field("Reaches as far as")

    def __init__(self, data: Any = None, *, by: Actor, people: list[Choice]) -> None:
        super().__init__(data, initial={"person": by.person.pk, "role": Role.OPERATOR})
        self.fields["person"].choices = offered(people)  # type: ignore[attr-defined]
        self.fields["role"].choices = [  # type: ignore[attr-defined]
            (one.value, REACH[one]) for one in REACH if powers(one) <= powers(by.role)
        ]
