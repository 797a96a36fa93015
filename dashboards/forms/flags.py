"""Closing a fixture's flag with what was found."""

from __future__ import annotations

from django import forms

from dashboards.forms.bench import why_field
from qc.models import FlagState


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
