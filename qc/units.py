"""Lengths: inch, thou and millimetre, exact to six decimal places of a millimetre.

0.00001 in is 0.000254 mm, so six places hold every reading of an inch instrument exactly.
Imports no Django, so that numerics and bench scripts can use it too.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from qc.errors import (
    BadInput,
    CommaUnclear,
    LengthTooLarge,
    NotALength,
    NotFinite,
    TooManyPlaces,
)

MM_PLACES = Decimal("0.000001")
LARGEST_MM = Decimal(2000)
MOST_DIGITS = 12


class Unit(StrEnum):
    MM = "mm"
    INCH = "in"
    THOU = "thou"


MM_PER: dict[Unit, Decimal] = {
    Unit.MM: Decimal(1),
    Unit.INCH: Decimal("25.4"),
    Unit.THOU: Decimal("0.0254"),
}
FINEST: dict[Unit, str] = {Unit.MM: "0.000001 mm", Unit.INCH: "0.00001 in", Unit.THOU: "0.01 thou"}
SPELLINGS: dict[str, Unit] = {
    "mm": Unit.MM,
    "in": Unit.INCH,
    "inch": Unit.INCH,
    '"': Unit.INCH,
    "thou": Unit.THOU,
}


@dataclass(frozen=True)
class Length:
    """A length as somebody gave it. `value` keeps the digits typed, trailing zeros included."""

    value: Decimal
    unit: Unit

    @property
    def mm(self) -> Decimal:
        """In millimetres, exact to six places. Raises where the value is too fine or too large."""
        if not self.value.is_finite():
            raise NotFinite(what="A length", got=self.value)
        if abs(self.value) > LARGEST_MM * 1000:
            raise LengthTooLarge(what="A length", got_mm=self, limit_mm=LARGEST_MM)
        exact = self.value * MM_PER[self.unit]
        if abs(exact) > LARGEST_MM:
            raise LengthTooLarge(what="A length", got_mm=self, limit_mm=LARGEST_MM)
        rounded = exact.quantize(MM_PLACES)
        if rounded != exact:
            raise TooManyPlaces(got=self, finest=FINEST[self.unit])
        return rounded

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}"


def mm(value: str | int | Decimal) -> Length:
    """A length given in millimetres; for defaults and tests."""
    return Length(Decimal(value), Unit.MM)


def parse_length(text: str, *, default_unit: Unit) -> Length:
    """Read "0.040 in", "40 thou", "1,02" and the like; a bare number takes the default unit.

    One comma is read as a decimal point, except in 1,020, which could mean two things.
    """
    words = text.strip().lower()
    unit = default_unit
    for spelling in sorted(SPELLINGS, key=len, reverse=True):
        if words.endswith(spelling):
            unit, words = SPELLINGS[spelling], words[: -len(spelling)].strip()
            break
    return Length(_decimal(words, asked=text), unit)


def length_from_parts(value: object, unit: object) -> Length:
    """The {"value": "1.02", "unit": "mm"} of the API. Raises BadInput naming the unit at fault."""
    try:
        known = Unit(str(unit))
    except ValueError:
        raise BadInput(why=f"Unknown unit {unit!r}. Use mm, in or thou.") from None
    return Length(_decimal(str(value), asked=value), known)


def _decimal(digits: str, *, asked: object) -> Decimal:
    whole, comma, rest = digits.partition(",")
    if comma and "." not in digits and "," not in rest:
        if len(rest) == 3 and whole.strip("+-") != "0":
            raise CommaUnclear(got=asked)
        digits = f"{whole}.{rest}"
    try:
        value = Decimal(digits)
    except InvalidOperation:
        raise NotALength(got=asked) from None
    if not value.is_finite():
        raise NotFinite(what="A length", got=asked)
    # 1e999999999 is short to type and a billion digits to write out or multiply.
    if value and value.adjusted() > MOST_DIGITS:
        raise LengthTooLarge(what="A length", got_mm=asked, limit_mm=LARGEST_MM)
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)  # finite
    if exponent < -MOST_DIGITS:
        raise TooManyPlaces(got=asked, finest=FINEST[Unit.MM])
    return value
