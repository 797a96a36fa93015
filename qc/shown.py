"""How lengths are written for people: mm to three places, inch to four, thou to one;
where thou are spoken, half an inch and more in inches to three.

Shared by drawings, pages and e-mails, so that all of them read alike. Imports nothing of ours.
Takes millimetres, gives text with a real minus sign. Reading what people type is qc.units' work.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

MINUS = "−"
NO_BREAK = "\N{NO-BREAK SPACE}"
ABSENT = "—"


@dataclass(frozen=True)
class ShownUnit:
    """A unit as displayed: its name, its size in mm, and the decimal places it is written with."""

    name: str
    mm: Decimal
    places: int

    def of(self, value_mm: float | Decimal) -> float:
        """The value on a drawing's axis."""
        return float(Decimal(str(value_mm)) / self.mm)

    def of_pair(self, values_mm: tuple[float, float]) -> tuple[float, float]:
        """The same for the two ends of an axis."""
        return self.of(values_mm[0]), self.of(values_mm[1])

    def digits(self, value_mm: float | Decimal, *, signed: bool = False) -> str:
        """Digits without the unit; halves round away from zero, zero carries no sign."""
        return self.own_digits(Decimal(str(value_mm)) / self.mm, signed=signed)

    def own_digits(self, value: float | Decimal, *, signed: bool = False) -> str:
        """The same for a value that is in this unit already, such as a tick on an axis."""
        step = Decimal(1).scaleb(-self.places)
        value = Decimal(str(value)).quantize(step, rounding=ROUND_HALF_UP)
        if value == 0:
            return f"{abs(value)}"
        sign = MINUS if value < 0 else "+" if signed else ""
        return f"{sign}{abs(value)}"

    def text(
        self, value_mm: float | Decimal | None, *, signed: bool = False, as_size: bool = True
    ) -> str:
        """Digits and unit, kept on one line; a dash where there is no value.

        as_size: nobody speaks of a bore in thou, so half an inch and more is told in inches there.
        False for what is read off a dial. Signed values, which are dials and differences, stay.
        """
        if value_mm is None:
            return ABSENT
        is_size = abs(Decimal(str(value_mm))) >= SIZE_FROM_MM
        if as_size and is_size and not signed and self.name == "thou":
            return SIZES.text(value_mm)
        return f"{self.digits(value_mm, signed=signed)}{NO_BREAK}{self.name}"

    def finer(self) -> ShownUnit:
        """The same with one more place, for what is smaller than a reading."""
        return replace(self, places=self.places + 1)


SIZE_FROM_MM = Decimal("12.7")
SIZES = ShownUnit("in", Decimal("25.4"), 3)
SHOWN = {
    "mm": ShownUnit("mm", Decimal(1), 3),
    "in": ShownUnit("in", Decimal("25.4"), 4),
    "thou": ShownUnit("thou", Decimal("0.0254"), 1),
}


def whole_degrees(deg: float) -> str:
    """A clock position from 0 to 359, as 140°."""
    return f"{int(Decimal(str(deg)).quantize(Decimal(1), rounding=ROUND_HALF_UP)) % 360}°"


def wide_toward(deg: float | None) -> str:
    """A direction in words; says so where there is none."""
    return "no direction" if deg is None else f"wide toward {whole_degrees(deg)}"
