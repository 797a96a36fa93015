"""Forms with a box for every reading: as many pieces, crushes, angles and positions as were taken.

Boxes left empty are not readings. A form that asks for more boxes, or for the next empty one, is
shown again from what was typed and is not checked until somebody saves it.
"""

from __future__ import annotations

from abc import ABCMeta, abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.forms.boundfield import BoundField
from django.forms.forms import DeclarativeFieldsMetaclass

from dashboards.forms.bench import StepForm, unit_field
from dashboards.forms.fields import DegreesField, LengthField
from qc.operations.reading_rows import ReadingIn


@dataclass(frozen=True)
class Box:
    """One entry for a reading. With `degrees_name` the clock position is typed beside it."""

    name: str
    label: str
    position_deg: int = 0
    piece: int = 1
    crush: int = 1
    plane: int = 1
    degrees_name: str = ""


@dataclass(frozen=True)
class BoxRow:
    """Boxes that stand together on the page, under a heading."""

    heading: str
    entries: list[tuple[BoundField | None, BoundField]]


class _AbstractForm(DeclarativeFieldsMetaclass, ABCMeta):
    """A form that cannot be made before its abstract methods are written."""


class ReadingsForm(StepForm, metaclass=_AbstractForm):
    """What forms of readings share. A subclass says which boxes there are, and how they stand.

    count_limits: the counts the boxes depend on, each with its least and most; they travel in
    hidden fields, and a button named `more` with a count's name as its value raises it by one.
    """

    unit = unit_field()
    count_limits: ClassVar[Mapping[str, tuple[int, int]]] = {}

    def add_fields(self) -> None:
        sent = self.data if self.is_bound else self.initial
        self.counts = {name: self.count(sent, name) for name in self.count_limits}
        for name, count in self.counts.items():
            self.fields[name] = forms.IntegerField(
                required=False, initial=count, widget=forms.HiddenInput
            )
        for box in self.boxes():
            if box.degrees_name:
                self.fields[box.degrees_name] = DegreesField(
                    label="Position, degrees", required=False
                )
            self.fields[box.name] = LengthField(label=box.label, required=False, reading=True)

    @classmethod
    def count(cls, sent: Mapping[str, Any], name: str) -> int:
        least, most = cls.count_limits[name]
        try:
            return min(max(int(sent.get(name, least)), least), most)
        except (TypeError, ValueError):
            return least

    @classmethod
    def typed_so_far(cls, sent: Mapping[str, Any], *, wish: str) -> dict[str, Any]:
        """What was typed, as the initial values of a form that grants the wish."""
        typed = {name: sent[name] for name in sent}
        if wish in cls.count_limits:
            typed[wish] = cls.count({wish: cls.count(sent, wish) + 1}, wish)
        return typed

    @abstractmethod
    def boxes(self) -> list[Box]:
        """Every entry there is, in the order they are filled."""

    @abstractmethod
    def box_rows(self) -> Iterator[BoxRow]:
        """The same, as they stand on the page."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        filled = [box for box in self.boxes() if cleaned.get(box.name) is not None]
        for box in filled:
            if box.degrees_name and cleaned.get(box.degrees_name, 0) is None:
                self.add_error(box.degrees_name, "Say at which position this was read.")
        cleaned["readings"] = [self._reading(box) for box in filled]
        return cleaned

    def _reading(self, box: Box) -> ReadingIn:
        degrees = self.cleaned_data.get(box.degrees_name) if box.degrees_name else box.position_deg
        return ReadingIn(
            length=self.cleaned_data[box.name],
            position_deg=Decimal(degrees or 0),
            piece=box.piece,
            crush=box.crush,
            plane=box.plane,
            field=box.name,
        )

    def focus(self) -> None:
        """Put the cursor in the first empty box, or on the save button when all are filled."""
        empty = [box for box in self.boxes() if not str(self[box.name].value() or "").strip()]
        self.is_filled = not empty
        if empty:
            self.fields[empty[0].name].widget.attrs["autofocus"] = True

    def entry(self, box: Box) -> tuple[BoundField | None, BoundField]:
        return (self[box.degrees_name] if box.degrees_name else None), self[box.name]
