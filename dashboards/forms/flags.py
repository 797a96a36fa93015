"""Closing a flag with what was found, deciding what to do about one, and what came of it after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dashboards.forms.bench import why_field
from qc.lookups.flags.lines import SuspectLine, told_name
from qc.models import Answer, FlagState


class CloseFlagForm(forms.Form):
    state = forms.ChoiceField(
        label="What was found",
        choices=[
            (FlagState.CAUSE_FOUND, "A cause was found, and it is put right"),
            (FlagState.NONE_FOUND, "No cause was found"),
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
                choices=[("", "Not known"), *told],
                coerce=_kind_and_key,
                empty_value=None,
                required=False,
                widget=forms.RadioSelect,
            )
            self.fields["looked_at"] = forms.TypedMultipleChoiceField(
                label="Where none was found, which were looked at?",
                help_text="The flag stays open while a likely one was not.",
                choices=told,
                coerce=_kind_and_key,
                initial=[f"{one.kind} {one.key}" for one in named if one.is_likely],
                required=False,
                widget=forms.CheckboxSelectMultiple,
            )
        self.order_fields(["state", "cause", "looked_at", "why"])

    def clean(self) -> dict[str, Any]:
        """The boxes of the likely start ticked, and say nothing where a cause was found."""
        told = super().clean() or {}
        if told.get("state") == FlagState.CAUSE_FOUND:
            told.pop("looked_at", None)
        return told


def _kind_and_key(value: str) -> tuple[str, int]:
    kind, key = value.split()
    return kind, int(key)


class DecideForm(forms.Form):
    answer = forms.ChoiceField(
        label="What is decided",
        choices=[
            (Answer.ACCEPTED, "Do as recommended"),
            (Answer.PUT_OFF, "Put it off"),
        ],
        widget=forms.RadioSelect,
    )
    why = why_field("Why, if it is put off")
    until = forms.DateField(
        label="Put off until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="The day to decide again.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Any, *, is_accepted: bool) -> None:
        """is_accepted: as decided so far; to decide otherwise is then to put it off."""
        super().__init__(data)
        if is_accepted:
            self.fields["answer"].initial = Answer.PUT_OFF
            self.fields["answer"].widget = forms.HiddenInput()
            self.fields["why"].label = "Why is it put off after all?"


NONE = "none"


class FindingForm(forms.Form):
    found = forms.ChoiceField(label="What came of it", widget=forms.RadioSelect)
    why = why_field("What was seen, and where?")

    def __init__(self, data: Any, *, suspects: Sequence[SuspectLine]) -> None:
        super().__init__(data)
        self.fields["found"].choices = [  # type: ignore[attr-defined]
            *(
                (f"{one.kind} {one.key}", f"A cause was found in {told_name(one)}")
                for one in suspects
            ),
            (NONE, "No cause was found"),
        ]

    def facts(self) -> dict[str, Any]:
        """What `say_finding` takes."""
        found, why = self.cleaned_data["found"], self.cleaned_data["why"]
        if found == NONE:
            return {"state": FlagState.NONE_FOUND, "why": why}
        return {"state": FlagState.CAUSE_FOUND, "cause": _kind_and_key(found), "why": why}
