"""Fields for what is read at the bench: lengths in three units, degrees on a clock."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from dashboards.figures.lengths import MINUS, SHOWN
from qc.errors import ShopError
from qc.units import MM_PER, Length, Unit, parse_length

GAUGE_TYPES = {"inputmode": "decimal", "autocomplete": "off", "autocapitalize": "off"}


class LengthField(forms.CharField):
    """A qc.units.Length from "0.040 in", "40 thou" or "1.02"; a bare number is in `unit`.

    The form sets `unit` to the one it was sent with (BenchForm does). An empty entry is None.
    A form that is shown again shows the text as it was typed.
    """

    def __init__(self, *, reading: bool = False, **options: Any) -> None:
        attrs = {**GAUGE_TYPES, **({"class": "reading"} if reading else {})}
        options.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(max_length=40, **options)
        self.unit = Unit.MM

    def clean(self, value: Any) -> Length | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            length = parse_length(text.replace(MINUS, "-"), default_unit=self.unit)
            length.mm  # noqa: B018 (too fine or too large raises here, on this field)
        except ShopError as error:
            words = error.told(length=SHOWN[self.unit].text)
            raise forms.ValidationError(words, code=error.code) from None
        return length


class DegreesField(forms.CharField):
    """A clock position as Decimal degrees, 0 up to 360; 360 itself is 0. Empty is None."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.TextInput(attrs=GAUGE_TYPES))
        super().__init__(max_length=12, **options)

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value).removesuffix("°").strip()
        if not text:
            return None
        try:
            degrees = Decimal(text.replace(",", "."))
        except InvalidOperation:
            degrees = Decimal("NaN")
        if not degrees.is_finite() or not 0 <= degrees <= 360:
            raise forms.ValidationError(f'"{text}" is no clock position: write 0 to 360 degrees.')
        if degrees != round(degrees, 2):
            raise forms.ValidationError("Degrees are kept to two decimals. Round it.")
        return degrees % 360


def as_typed(value_mm: Decimal | float | None, unit: str) -> str:
    """A stored length as somebody would type it, unit included; mm where `unit` is not exact."""
    if value_mm is None:
        return ""
    exact = Decimal(str(value_mm))
    shown = SHOWN[unit]
    digits = shown.digits(exact).replace(MINUS, "-")
    if Decimal(digits) * MM_PER[Unit(unit)] == exact:
        return f"{digits} {unit}"
    return f"{exact.normalize():f} mm"
