"""Columns that several tables share, so that a length is stored one way everywhere."""

from __future__ import annotations

from typing import Any

from django.db import models

from qc.units import Unit

UNIT_CHOICES = [(unit.value, unit.value) for unit in Unit]


def mm_column(**options: Any) -> models.DecimalField[Any, Any]:
    """Millimetres, six places: exact for 0.00001 in."""
    return models.DecimalField(max_digits=12, decimal_places=6, **options)


def entered_value_column(**options: Any) -> models.CharField[Any, Any]:
    """The digits as they were typed, trailing zeros included."""
    return models.CharField(max_length=24, **options)


def unit_column(**options: Any) -> models.CharField[Any, Any]:
    return models.CharField(max_length=4, choices=UNIT_CHOICES, **options)


def degrees_column(**options: Any) -> models.DecimalField[Any, Any]:
    return models.DecimalField(max_digits=6, decimal_places=2, **options)


def one_of(column: str, choices: type[models.TextChoices], name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=models.Q(**{f"{column}__in": choices.values}), name=name
    )


def at_least_zero(column: str, name: str) -> models.CheckConstraint:
    condition = models.Q(**{f"{column}__gte": 0}) | models.Q(**{f"{column}__isnull": True})
    return models.CheckConstraint(condition=condition, name=name)


def on_the_clock(column: str, name: str) -> models.CheckConstraint:
    inside = models.Q(**{f"{column}__gte": 0, f"{column}__lt": 360})
    return models.CheckConstraint(
        condition=inside | models.Q(**{f"{column}__isnull": True}), name=name
    )
