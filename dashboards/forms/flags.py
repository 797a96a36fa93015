"""Closing a flag with what was found, and deciding what to do about one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dashboards.forms.bench import why_field
from qc.lookups.flags import SuspectLine, told_name
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

    def __init__(self, data: Any, *, suspects: Sequence[SuspectLine]) -> None:
        """suspects: as the reader may know of them; asked for only where there are several."""
        super().__init__(data)
        named = [one for one in suspects if one.key is not None]
        if len(suspects) > 1:
            told = [(f"{one.kind} {one.key}", told_name(one)) for one in named]
            self.fields["cause"] = forms.TypedChoiceField(
                label="Where a cause was found, in which did it lie?",
                choices=[("", "not known"), *told],
                coerce=_kind_and_key,
                empty_value=None,
                required=False,
                widget=forms.RadioSelect,
            )


def _kind_and_key(value: str) -> tuple[str, int]:
    kind, key = value.split()
    return kind, int(key)


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
