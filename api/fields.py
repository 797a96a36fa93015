"""Values that must be what they are: DRF's own fields would read 0 as "0" and "1" as 1."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.fields import empty

from qc.errors import NotThere

LONGEST_TEXT = 2000
LARGEST_NUMBER = 2**63 - 1


class StrictText(serializers.CharField):
    """Text, at most 2000 characters unless said otherwise."""

    default_error_messages = {"not_text": "Send this as text, in quotes."}

    def __init__(self, **options: Any) -> None:
        shortest = 0 if options.get("allow_blank") else 1
        super().__init__(**{"min_length": shortest, "max_length": LONGEST_TEXT, **options})

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("not_text")
        return super().to_internal_value(data)


class StrictWhole(serializers.IntegerField):
    default_error_messages = {"not_whole": "Send this as a whole number, without quotes."}

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("not_whole")
        return super().to_internal_value(data)


class StrictYesNo(serializers.BooleanField):
    default_error_messages = {"not_yes_or_no": "Send this as true or false, without quotes."}

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("not_yes_or_no")
        return data


class StrictNumber(serializers.DecimalField):
    """A JSON number that is no length, kept digit by digit."""

    default_error_messages = {"not_a_number": "Send this as a number, without quotes."}

    def __init__(self, *, max_digits: int, decimal_places: int, **options: Any) -> None:
        super().__init__(max_digits, decimal_places, coerce_to_string=False, **options)

    def to_internal_value(self, data: Any) -> Decimal:
        if isinstance(data, bool) or not isinstance(data, int | Decimal):
            self.fail("not_a_number")
        return super().to_internal_value(data)


def row_number(**options: Any) -> serializers.IntegerField:
    """The number of something in the shop, in a question mark's filter; need not exist."""
    return serializers.IntegerField(
        required=False, min_value=1, max_value=LARGEST_NUMBER, **options
    )


def degrees(**options: Any) -> StrictNumber:
    """A clock position, 0 up to and with 360, which is 0 again."""
    return StrictNumber(max_digits=5, decimal_places=2, min_value=0, max_value=360, **options)


@extend_schema_field({"type": "integer", "minimum": 1})
class Ref(serializers.Field[Any, Any, Any, Any]):
    """The number of something in the shop; becomes that row."""

    default_error_messages = {"not_whole": "Send its number, without quotes."}

    def __init__(self, find: Callable[[object], Any], **options: Any) -> None:
        self.find = find
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("not_whole")
        return _found(self.find, data)


class PersonNamed(StrictText):
    """A sign-in name; becomes that person."""

    def __init__(self, find: Callable[[str], Any], **options: Any) -> None:
        self.find = find
        super().__init__(max_length=40, **options)

    def run_validation(self, data: Any = empty) -> Any:
        return _found(self.find, super().run_validation(data))


def _found(find: Callable[[Any], Any], key: Any) -> Any:
    try:
        return find(key)
    except NotThere as error:
        raise ValidationError(str(error), code=error.code) from None
