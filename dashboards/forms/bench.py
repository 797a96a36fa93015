"""What the forms of the bench share: the unit of bare numbers, and two people at one job."""

from __future__ import annotations

from typing import Any

from django import forms

from dashboards.forms.fields import LengthField
from qc.units import Unit

UNITS = [(Unit.MM, "mm"), (Unit.INCH, "inch"), (Unit.THOU, "thou")]


class BenchForm(forms.Form):
    """A form with lengths. `unit`: what a bare number is in, unless the form itself asks."""

    def __init__(self, data: Any = None, *, unit: str, **options: Any) -> None:
        super().__init__(data, **options)
        self.unit = self._chosen(unit)
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.unit = self.unit

    def _chosen(self, unit: str) -> Unit:
        if "unit" not in self.fields:
            return Unit(unit)
        asked = self.data.get(self.add_prefix("unit"), self.initial.get("unit", unit))
        self.fields["unit"].initial = unit
        return Unit(asked if asked in list(Unit) else unit)


def unit_field() -> forms.ChoiceField:
    return forms.ChoiceField(label="A bare number is in", choices=UNITS, widget=forms.RadioSelect)
