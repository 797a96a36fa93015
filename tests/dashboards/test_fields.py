"""Lengths and degrees as people type them, and stored lengths as a form offers them again."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django import forms

from dashboards.forms.fields import DegreesField, LengthField, as_typed
from qc.units import Unit


def read(text: str, unit: Unit = Unit.MM) -> object:
    field = LengthField(required=False)
    field.unit = unit
    return field.clean(text)


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("0.040 in", Unit.MM, "1.016000"),
        ("40 thou", Unit.MM, "1.016000"),
        ("1.02", Unit.MM, "1.020000"),
        ("1.02", Unit.INCH, "25.908000"),
        ("1,02 mm", Unit.THOU, "1.020000"),
        ("−0.010", Unit.MM, "-0.010000"),
        (" +0.5 ", Unit.MM, "0.500000"),
    ],
)
def test_a_bare_number_is_in_the_forms_unit_and_any_other_in_its_own(
    text: str, unit: Unit, mm: str
) -> None:
    assert str(read(text, unit).mm) == mm


def test_an_empty_entry_is_none() -> None:
    assert read("  ") is None


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("wide", "not_a_length"),
        ("1,020", "comma_unclear"),
        ("1e-9", "too_many_places"),
        ("1e9", "length_too_large"),
        ("1e999999999", "length_too_large"),
        ("1e-999999999", "too_many_places"),
        ("nan", "not_finite"),
        ("1" * 41, "max_length"),
    ],
)
def test_what_is_no_length_says_why(text: str, code: str) -> None:
    with pytest.raises(forms.ValidationError) as refused:
        read(text)
    assert [error.code for error in refused.value.error_list] == [code]


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        ("0.500000", "mm", "0.500 mm"),
        ("0.508000", "thou", "20.0 thou"),
        ("0.508000", "in", "0.0200 in"),
        ("0.500000", "in", "0.5 mm"),
        ("0.523456", "mm", "0.523456 mm"),
        ("0", "in", "0.0000 in"),
    ],
)
def test_a_stored_length_is_offered_in_the_persons_unit_only_where_exact(
    mm: str, unit: str, text: str
) -> None:
    assert as_typed(Decimal(mm), unit) == text
    assert read(text, Unit(unit)).mm == Decimal(mm)


@pytest.mark.parametrize(
    ("text", "degrees"), [("90", 90), ("90°", 90), ("360", 0), ("12.5", 12.5), ("12,5", 12.5)]
)
def test_degrees(text: str, degrees: float) -> None:
    assert DegreesField(required=False).clean(text) == Decimal(str(degrees))


@pytest.mark.parametrize("text", ["-1", "361", "north", "nan", "inf", "1.234"])
def test_what_is_no_clock_position_says_so(text: str) -> None:
    with pytest.raises(forms.ValidationError):
        DegreesField(required=False).clean(text)
