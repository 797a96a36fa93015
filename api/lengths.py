"""Lengths on the wire: {"value": "1.02", "unit": "mm"}, with the unit always there.

The value is text both ways. A JSON number is refused: most readers and writers of JSON hold it as
a binary float, and 1.02 would come back as another number.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from api.answers import Out
from api.bodies import Body
from api.fields import StrictText
from qc.errors import NotALength, ShopError
from qc.units import MM_PLACES, Unit, length_from_parts

# As many characters as the record keeps of what was entered.
LONGEST_VALUE = 24
DIGITS = frozenset("0123456789.,+-")


@extend_schema_field(
    {"type": "string", "pattern": r"^[+-]?\d+([.,]\d+)?$", "maxLength": 24, "examples": ["1.02"]}
)
class Digits(StrictText):
    default_error_messages = {
        "not_text": 'Write the value in quotes, "1.02": a JSON number is held as a binary float, '
        "which loses digits."
    }


class LengthIn(Body):
    """A length as somebody read it, with every digit that was read."""

    value = Digits(max_length=LONGEST_VALUE)
    unit = serializers.ChoiceField(choices=[unit.value for unit in Unit])

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, Mapping):
            raise ValidationError(
                'Write a length as {"value": "1.02", "unit": "mm"}.', code=NotALength.code
            )
        parts = super().to_internal_value(data)
        try:
            if not DIGITS.issuperset(parts["value"]):
                raise NotALength(got=parts["value"])
            length = length_from_parts(parts["value"], parts["unit"])
            length.mm  # noqa: B018  # raises where it is too fine or too large to keep
        except ShopError as error:
            raise ValidationError({"value": ErrorDetail(str(error), code=error.code)}) from None
        return length


class MmIn(LengthIn):
    """A length that is kept in mm alone; becomes that Decimal."""

    def to_internal_value(self, data: Any) -> Any:
        return super().to_internal_value(data).mm


class EnteredOut(Out):
    value = serializers.CharField()
    unit = serializers.ChoiceField(choices=[unit.value for unit in Unit])


class LengthOut(Out):
    """Millimetres to six places, trailing zeros dropped. Made from a Decimal or a float in mm."""

    value = serializers.CharField(help_text="Millimetres, as text.")
    unit = serializers.ChoiceField(choices=[Unit.MM.value])

    def to_representation(self, instance: Decimal | float) -> dict[str, Any]:
        rounded = Decimal(instance).quantize(MM_PLACES) + 0  # + 0 turns -0 into 0
        return {"value": f"{rounded.normalize():f}", "unit": Unit.MM.value}


class MeasuredOut(Out):
    """A length of a row that keeps what was entered: its columns in mm, as typed, and the unit."""

    value = serializers.CharField(help_text="Millimetres, as text.")
    unit = serializers.ChoiceField(choices=[Unit.MM.value])
    entered = EnteredOut()

    def __init__(
        self,
        column: str,
        *,
        as_typed: str = "entered_value",
        typed_unit: str = "entered_unit",
        **options: Any,
    ) -> None:
        self.columns = (column, as_typed, typed_unit)
        super().__init__(**{"source": "*", **options})

    def to_representation(self, instance: Any) -> dict[str, Any]:
        mm, value, unit = (getattr(instance, column) for column in self.columns)
        return {
            **LengthOut().to_representation(mm),
            "entered": {"value": value, "unit": unit},
        }
