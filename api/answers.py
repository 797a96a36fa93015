"""What every answer is made from, and the small forms that many answers share."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class Out(serializers.Serializer[Any]):
    """Facts as the API tells them, spelled out: a new column is not a public promise."""


class Part(Out):
    """A group of facts read from the same row as the rest; null where the row's `needs` is None."""

    needs = ""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"source": "*", "allow_null": True, **options})

    def to_representation(self, instance: Any) -> Any:
        if getattr(instance, self.needs) is None:
            return None
        return super().to_representation(instance)


class DegreesOut(serializers.FloatField):
    """An angle to a hundredth of a degree."""

    def to_representation(self, value: Any) -> Any:
        return round(float(value), 2)


class NamedOut(Out):
    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
