"""Gauge studies at the bench: opened, read turn by turn, decided with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dashboards.forms.bench import (
    BenchForm,
    capitals,
    confirm_field,
    offered,
    unit_field,
    why_field,
)
from dashboards.forms.fields import LengthField
from qc.lookups.pages.choices import Choice
from qc.models import Repeats


class StudyForm(BenchForm):
    """Field names are those the rules use."""

    name = forms.CharField(
        label="Name", max_length=60, help_text="Such as: Micrometer 2 on solder, spring."
    )
    gauges = forms.TypedMultipleChoiceField(
        label="Gauges", coerce=int, widget=forms.CheckboxSelectMultiple
    )
    people = forms.TypedMultipleChoiceField(
        label="People",
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        help_text="Two at least; three or more say far more about how people differ.",
    )
    pieces_are = forms.CharField(
        label="What is measured",
        max_length=80,
        help_text="Such as: crushed solder from one engine, or setting pieces.",
    )
    repeats = forms.ChoiceField(
        label="What a trial repeats",
        choices=capitals(Repeats.choices),
        widget=forms.RadioSelect,
        help_text=(
            "Reading the same piece again shows gauge and hands alone. A fresh piece crushed at "
            "the same place also shows how pieces differ, and may replace the shop's usual spread."
        ),
    )
    parts = forms.IntegerField(
        label="How many pieces or places",
        min_value=2,
        help_text="Number them. They should differ as much as the shop's own jobs do.",
    )
    trials = forms.IntegerField(label="How often each person reads each", min_value=1)
    nominal = LengthField(
        label="About what they measure", help_text="Catches a reading typed in a wrong unit."
    )
    tolerance = LengthField(
        label="Tolerance to hold it against",
        help_text="The full width, from the lowest allowed to the highest.",
    )
    note = why_field("Note")

    def __init__(
        self,
        data: Any = None,
        *,
        unit: str,
        gauges: Sequence[Choice],
        people: Sequence[Choice],
        **options: Any,
    ) -> None:
        super().__init__(data, unit=unit, **options)
        for name, choices in (("gauges", gauges), ("people", people)):
            self.fields[name].choices = offered(choices)  # type: ignore[attr-defined]


class TrialForm(BenchForm):
    """One reading. `turn`: the one the page handed out."""

    unit = unit_field()
    turn = forms.IntegerField(widget=forms.HiddenInput)
    length = LengthField(label="Reading", reading=True)
    confirm = confirm_field()

    def add_fields(self) -> None:
        self.fields["length"].widget.attrs["autofocus"] = True


class CheckForm(BenchForm):
    """What a gauge read on a standard."""

    unit = unit_field()
    standard = forms.TypedChoiceField(label="Standard", coerce=int)
    length = LengthField(label="Reading", reading=True)
    note = why_field("Note")
    confirm = confirm_field()

    def __init__(self, data: Any = None, *, standards: Sequence[Choice], **options: Any) -> None:
        super().__init__(data, **options)
        self.fields["standard"].choices = offered(standards, none="Choose a standard")  # type: ignore[attr-defined]


class StandardForm(BenchForm):
    name = forms.CharField(
        label="Name",
        max_length=60,
        help_text="What is marked on it. A new certificate makes a new standard.",
    )
    size = LengthField(label="Size", help_text="As its certificate states it.")
    u_mm = LengthField(
        label="Standard uncertainty of its certificate",
        required=False,
        help_text="A certificate usually states the expanded figure with k = 2: write half of it.",
    )
    note = why_field("Note")


class DecisionForm(forms.Form):
    """A deed that needs a reason; the rules say when one may be left out."""

    why = why_field("Why?")
