"""What the forms of the bench share: the unit of bare numbers, and two people at one job."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from django import forms

from dashboards.forms.fields import LengthField
from qc.lookups.pages.choices import Choice
from qc.lookups.record.journal import last_entry
from qc.models import Job
from qc.units import Unit

UNITS = [(Unit.MM, "mm"), (Unit.INCH, "inch"), (Unit.THOU, "thou")]


class BenchForm(forms.Form):
    """A form with lengths. `unit`: what a bare number is in, unless the form itself asks."""

    unit: Any  # a form that asks has a field of that name; once made, it is the Unit read in

    def __init__(self, data: Any = None, *, unit: str, **options: Any) -> None:
        super().__init__(data, **options)
        self.add_fields()
        self.unit = self._chosen(unit)
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.unit = self.unit
            _say_what_is_missing(field)

    def add_fields(self) -> None:
        """For forms whose fields depend on what is sent or shown; `data` and `initial` are set."""

    def _chosen(self, unit: str) -> Unit:
        if "unit" not in self.fields:
            return Unit(unit)
        asked = self.data.get(self.add_prefix("unit"), self.initial.get("unit", unit))
        self.fields["unit"].initial = unit
        return Unit(asked if asked in list(Unit) else unit)


def _say_what_is_missing(field: forms.Field) -> None:
    """Which box is empty, and what to do; unless the form has words of its own."""
    if field.error_messages["required"] == forms.Field.default_error_messages["required"]:
        is_choice = isinstance(field, forms.ChoiceField)
        todo = "Choose one." if is_choice else "Fill it in."
        what = "Nothing is chosen" if is_choice else "Nothing is written"
        field.error_messages["required"] = f"{what} under “{field.label}”. {todo}"


class StepForm(BenchForm):
    """A form that changes a job somebody else may be changing too.

    version: the job's when the page was opened. seen: the newest journal entry then. looked: the
    version whose changes the person says to have looked at, after another saved first.
    """

    version = forms.IntegerField(widget=forms.HiddenInput)
    seen = forms.IntegerField(widget=forms.HiddenInput)
    looked = forms.IntegerField(required=False, widget=forms.HiddenInput)

    @property
    def expected_version(self) -> int:
        return int(self.cleaned_data["looked"] or self.cleaned_data["version"])


def start_of(job: Job) -> dict[str, int]:
    """What a StepForm starts from."""
    return {"version": job.version, "seen": last_entry(job)}


def unit_field() -> forms.ChoiceField:
    return forms.ChoiceField(label="A bare number is in", choices=UNITS, widget=forms.RadioSelect)


def pick(label: str, **options: Any) -> forms.TypedChoiceField:
    """A choice whose value is a row's key, or None; `offer` says what there is to choose."""
    return forms.TypedChoiceField(label=label, coerce=int, empty_value=None, **options)


def why_field(label: str, **options: Any) -> forms.CharField:
    """A reason. Not required here: the rules say when one is needed, in their own words."""
    options.setdefault("required", False)
    return forms.CharField(label=label, widget=forms.Textarea(attrs={"rows": 2}), **options)


def confirm_field() -> forms.BooleanField:
    """Shown once something looked like a slip (parts/confirm.html)."""
    return forms.BooleanField(label="It is right: save it as typed", required=False)


def capitals(choices: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """Choices worded for the middle of a sentence, as they stand beside a button."""
    return [(value, label[:1].upper() + label[1:]) for value, label in choices]


def offered(choices: Iterable[Choice], *, none: str | None = None) -> list[Any]:
    """Choices as a select takes them, grouped where they have groups; `none`: an empty first."""
    lines: list[Any] = [] if none is None else [("", none)]
    for group, members in groupby(choices, key=lambda one: one.group):
        pairs = [(one.key, one.label) for one in members]
        lines.extend([(group, pairs)] if group else pairs)
    return lines


def offer(
    form: forms.Form, name: str, choices: Iterable[Choice], *, none: str | None = None
) -> None:
    """Fill one of the form's selects."""
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = offered(choices, none=none)
