"""Signing in, and what a person chooses for themselves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.utils import timezone

from dashboards.forms.bench import UNITS
from qc.operations import sign_ins


class SignInForm(AuthenticationForm):
    """Django's sign-in, held back for a quarter of an hour after many failures of one name."""

    username = UsernameField(label="Name", widget=forms.TextInput(attrs={"autofocus": True}))
    error_messages = {
        "invalid_login": "That name and password do not go together. Try again.",
        "inactive": "That account is closed. Ask a lead.",
        "held_back": (
            "Too many wrong passwords for that name. Wait a quarter of an hour, or ask a lead to "
            "set a new one."
        ),
    }

    def clean(self) -> dict[str, Any]:
        username = self.cleaned_data.get("username", "")
        if sign_ins.is_held_back(username, at=timezone.now()):
            raise forms.ValidationError(self.error_messages["held_back"], code="held_back")
        try:
            cleaned = super().clean()
        except forms.ValidationError:
            sign_ins.count_failure(username, at=timezone.now())
            raise
        if self.user_cache is not None:
            sign_ins.forget_failures(username)
        return cleaned


class PasswordForm(forms.Form):
    """`password` is what the rule about passwords names."""

    old = forms.CharField(
        label="Password now",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    password = forms.CharField(
        label="New password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="New password again",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, data: Any = None, *, person: Any) -> None:
        super().__init__(data)
        self.person = person

    def clean_old(self) -> str:
        old: str = self.cleaned_data["old"]
        if not self.person.check_password(old):
            raise forms.ValidationError("That is not your password now.")
        return old

    def clean_again(self) -> str:
        again: str = self.cleaned_data["again"]
        if again != self.cleaned_data.get("password"):
            raise forms.ValidationError("The two new passwords differ.")
        return again


class UnitForm(forms.Form):
    unit = forms.ChoiceField(label="Show lengths in", choices=UNITS, widget=forms.RadioSelect)
