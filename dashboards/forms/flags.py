"""Closing a flag with what was found, and deciding what to do about one."""

from __future__ import annotations

from django import forms

from dashboards.forms.bench import why_field
from qc.models import Answer, FlagState


class CloseFlagForm(forms.Form):
    state = forms.ChoiceField(
        label="What was found",
        choices=[
            (FlagState.CAUSE_FOUND, "a cause was found and put right without a service"),
            (FlagState.NONE_FOUND, "no cause was found"),
        ],
        widget=forms.RadioSelect,
    )
    why = why_field("What was looked at, and what was seen?")


class DecideForm(forms.Form):
    answer = forms.ChoiceField(
        label="What is decided",
        choices=[
            (Answer.ACCEPTED, "do as recommended"),
            (Answer.PUT_OFF, "put it off"),
        ],
        widget=forms.RadioSelect,
    )
    why = why_field("Why? Needed to put it off.")
