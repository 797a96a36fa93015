"""Finding jobs, opening one, and closing one."""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any

from django import forms

from dashboards.forms.bench import (
    BenchForm,
    StepForm,
    confirm_field,
    offer,
    pick,
    unit_field,
    why_field,
)
from dashboards.forms.fields import LengthField
from qc.lookups.pages import choices
from qc.models import State


class FilterForm(forms.Form):
    """Which jobs the list shows; anything unknown is taken as no filter."""

    state = forms.ChoiceField(
        label="State",
        required=False,
        choices=[("", "Any"), ("at_work", "At work"), *State.choices],
    )
    family = pick("Engine family", required=False)
    words = forms.CharField(
        label="Serial, customer reference or job number", required=False, max_length=80
    )

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        offer(self, "family", choices.families(), none="Any")

    def wanted(self) -> dict[str, Any]:
        self.is_valid()
        found = self.cleaned_data
        return {
            "state": found.get("state", ""),
            "family_id": found.get("family"),
            "words": found.get("words", ""),
        }


class NewJobForm(BenchForm):
    """A cylinder the shop knows, or a new one; limits other than the family's where asked.

    once: another for each time the page is given out.
    """

    once = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    unit = unit_field()
    cylinder = pick("Cylinder", required=False)
    family = pick("Engine family", required=False)
    serial = forms.CharField(label="Serial or mark", required=False, max_length=60)
    customer_reference = forms.CharField(label="Customer reference", required=False, max_length=80)
    earlier_cut = LengthField(
        label="Taken off the base before it came here",
        required=False,
        help_text="As far as it is known; it counts against the flange.",
    )
    target = LengthField(label="Target", required=False, help_text="Empty: the family's.")
    tol_minus = LengthField(label="Tolerance below the target", required=False)
    tol_plus = LengthField(label="Tolerance above the target", required=False)
    note = why_field("Note")
    confirm = confirm_field()
    beside_open = forms.BooleanField(
        label="Another job is meant: open it beside the one at work", required=False
    )

    def __init__(self, data: Any = None, *, words: str, chosen: int | None, **options: Any) -> None:
        self.words, self.chosen = words, chosen
        super().__init__(data, **options)

    def add_fields(self) -> None:
        found = choices.cylinders(words=self.words, chosen=self.chosen)
        offer(self, "cylinder", found, none="A new cylinder, described below")
        offer(self, "family", choices.families(), none="Choose a family")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if "cylinder" in self.errors:
            return cleaned
        if cleaned.get("cylinder"):
            if cleaned.get("serial"):
                self.add_error(
                    "cylinder", "A known cylinder is chosen and a new serial typed: which is it?"
                )
        elif not cleaned.get("family") and "family" not in self.errors:
            self.add_error("family", "Choose the new cylinder's family.")
        return cleaned

    def key(self) -> str | None:
        """The same for the same form sent again as it was; None for one that no page gave out."""
        if not self.cleaned_data["once"]:
            return None
        told = sorted((name, str(self.data.get(name, ""))) for name in self.fields)
        return sha256(json.dumps(told).encode()).hexdigest()


RELEASE, CUT_AGAIN, CONCEDE, SCRAP = "release", "cut_again", "concede", "scrap"


class DecisionForm(StepForm):
    """What becomes of a job; the button that was pressed is the decision."""

    decision = forms.ChoiceField(
        choices=[
            (RELEASE, "Release"),
            (CUT_AGAIN, "Cut again"),
            (CONCEDE, "Release on concession"),
            (SCRAP, "Scrap"),
        ]
    )
    why = why_field("Reason")
