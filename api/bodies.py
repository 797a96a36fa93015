"""What a request may say. A field we do not know is refused, so that no typo loses a reading."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from api.fields import StrictText


class Body(serializers.Serializer[Any]):
    """A JSON object with the declared fields and no others."""

    @classmethod
    def parse(cls, data: Any) -> dict[str, Any]:
        """The checked values by field name. Raises ValidationError naming every field at fault."""
        body = cls(data=data)
        body.is_valid(raise_exception=True)
        facts: dict[str, Any] = body.validated_data
        return facts

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            self._refuse_unknown(data)
        return super().to_internal_value(data)

    def _refuse_unknown(self, data: Mapping[str, Any]) -> None:
        unknown = [name for name in data if name not in self.fields]
        if unknown:
            raise ValidationError({name: self._no_such(name) for name in unknown})

    def _no_such(self, name: str) -> ErrorDetail:
        near = get_close_matches(name, list(self.fields), n=1)
        hint = f'Did you mean "{near[0]}"?' if near else f"Known here: {', '.join(self.fields)}."
        if not self.fields:
            hint = "This request takes no fields."
        return ErrorDetail(f"No such field. {hint}", code="unknown_field")


class Listing(Body):
    """What a list is asked with after the question mark, by the same rule."""

    cursor = serializers.CharField(required=False, help_text="From the last page's `next`.")
    limit = serializers.IntegerField(
        required=False, min_value=1, max_value=200, help_text="Rows a page."
    )


class Change(Body):
    """Says only what is to change."""

    def get_fields(self) -> dict[str, Any]:
        fields = super().get_fields()
        for one in fields.values():
            one.required = False
        return fields


class NoBody(Body):
    """For requests that say everything by their address."""


class Why(Body):
    why = StrictText(help_text="The reason, in a line.")
