"""A form whose fields are a table's columns, in groups that each say what they are for.

Field names are the columns' own, so that a refusal marks the field it names. A column that ends in
_mm is read as a length in any unit; the others as the column itself reads them.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.db import models

from dashboards.figures.lengths import ABSENT
from dashboards.forms.bench import BenchForm
from dashboards.forms.fields import LengthField, as_typed
from qc.units import Length

NUMBER = {"inputmode": "decimal", "autocomplete": "off"}


@dataclass(frozen=True)
class Column:
    """`field` stands in where the form asks for something other than the column holds.

    above_zero: zero is refused too; a length below it always is.
    """

    name: str
    label: str
    hint: str = ""
    field: forms.Field | None = None
    above_zero: bool = False


@dataclass(frozen=True)
class Group:
    """Columns that belong together. `is_folded`: few shops need them, so they start closed."""

    title: str
    says: str
    columns: tuple[Column, ...]
    is_folded: bool = False


@dataclass(frozen=True)
class Part:
    """One group of a form as the page prints it; a folded one opens where something is wrong."""

    group: Group
    fields: tuple[tuple[forms.BoundField, str], ...]

    @property
    def is_open(self) -> bool:
        return any(field.errors or on_record for field, on_record in self.fields)


@dataclass(frozen=True)
class PartRead:
    """One group as labels and words."""

    group: Group
    facts: tuple[tuple[str, str], ...]


class ColumnsForm(BenchForm):
    """`row` is what is changed, None for something new.

    A changed row carries the version its page showed. When somebody else saved in between,
    `look_again` puts what is on record now beside each field that differs, keeps what was typed,
    and takes the newer version as seen.
    """

    model: ClassVar[type[models.Model]]
    groups: ClassVar[tuple[Group, ...]]

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, unit: str, row: models.Model | None = None) -> None:
        super().__init__(data, unit=unit, initial=self.starts(row, unit))
        self.on_record: dict[str, str] = {}
        for column in self.all_columns():
            self.fields[column.name] = field = _field(self.model, column)
            if isinstance(field, LengthField):
                field.unit = self.unit

    @classmethod
    def all_columns(cls) -> list[Column]:
        return [column for group in cls.groups for column in group.columns]

    @classmethod
    def starts(cls, row: models.Model | None, unit: str) -> dict[str, Any]:
        """What the fields hold at first: the row's own values, or a new row's defaults."""
        shown = cls.model() if row is None else row
        names = [one.name for one in cls.all_columns() if hasattr(shown, one.name)]
        starts = {name: _as_shown(getattr(shown, name), name, unit) for name in names}
        return starts if row is None else {**starts, "version": cls.version_of(row)}

    @classmethod
    def version_of(cls, row: Any) -> int:
        return int(row.version)

    @property
    def has_lengths(self) -> bool:
        return any(isinstance(one, LengthField) for one in self.fields.values())

    @classmethod
    def read(cls, row: models.Model, unit: str) -> list[PartRead]:
        """The row's values in words, for a page that only shows them."""
        starts = cls.starts(row, unit)
        return [
            PartRead(
                group,
                tuple(
                    (one.label, in_words(cls.model, one.name, starts[one.name]))
                    for one in group.columns
                ),
            )
            for group in cls.groups
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for column in self.all_columns():
            given: Any = cleaned.get(column.name)
            size = given.value if isinstance(given, Length) else given
            if isinstance(given, Length) and size < 0:
                self.add_error(column.name, "This is never negative: check the sign.")
            elif column.above_zero and size is not None and size <= 0:
                self.add_error(column.name, "This is above zero.")
        return cleaned

    def parts(self) -> Iterator[Part]:
        for group in self.groups:
            names = [column.name for column in group.columns]
            yield Part(group, tuple((self[one], self.on_record.get(one, "")) for one in names))

    def columns(self) -> dict[str, Any]:
        """What the operation takes: lengths of columns in Decimal mm, the rest as cleaned."""
        given = {column.name: self.cleaned_data[column.name] for column in self.all_columns()}
        return {
            name: value.mm if isinstance(value, Length) and name.endswith("_mm") else value
            for name, value in given.items()
        }

    def changes(self, row: models.Model) -> dict[str, Any]:
        """The columns that differ from what the row holds."""
        return {
            name: value for name, value in self.columns().items() if value != getattr(row, name)
        }

    def look_again(self, row: models.Model) -> None:
        """Somebody else saved first: show what is on record now, and let the next save through."""
        now = self.starts(row, self.unit)
        for column in self.all_columns():
            typed, kept = self[column.name].value(), now.get(column.name)
            if str(typed or "") != str(kept or ""):
                self.on_record[column.name] = str(kept or "nothing")
        self.data = {**self.data.dict(), "version": now["version"]}  # type: ignore[attr-defined]


def _field(model: type[models.Model], column: Column) -> forms.Field:
    if column.field is not None:
        return deepcopy(column.field)
    known: Any = model._meta.get_field(column.name)
    if column.name.endswith("_mm"):
        return LengthField(label=column.label, help_text=column.hint, required=not known.blank)
    field: forms.Field = known.formfield(label=column.label, help_text=column.hint)
    if isinstance(field, forms.DateField):
        field.widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    elif isinstance(field, forms.DecimalField | forms.IntegerField):
        field.widget = forms.TextInput(attrs=NUMBER)
    elif isinstance(field.widget, forms.Textarea):
        field.widget = forms.Textarea(attrs={"rows": 2})
    return field


def in_words(model: type[models.Model], name: str, value: Any) -> str:
    """A column's value as a page says it; of a choice, its label."""
    known: Any = model._meta.get_field(name)
    value = dict(known.flatchoices).get(value, value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return ABSENT if value in (None, "") else str(value)


def _as_shown(value: Any, name: str, unit: str) -> Any:
    return as_typed(value, unit) if name.endswith("_mm") else value
