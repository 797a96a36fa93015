"""What stands beside a radio button begins with a capital, whatever page it is on."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

import pytest
from django import forms

import dashboards.forms
from dashboards.forms.bench import UNITS
from dashboards.forms.flags import FindingForm
from dashboards.forms.resources import FixtureServiceForm, GaugeServiceForm
from qc.models import Gauge
from qc.operations.resources import SERVICE_KINDS

NAMES_OF_UNITS = {label for _, label in UNITS}


def _forms() -> list[type[forms.BaseForm]]:
    rooms = [
        import_module(f"dashboards.forms.{one.name}")
        for one in iter_modules(dashboards.forms.__path__)
    ]
    return [
        one
        for room in rooms
        for one in vars(room).values()
        if isinstance(one, type) and issubclass(one, forms.BaseForm) and hasattr(one, "base_fields")
    ]


def _labels(fields: dict[str, forms.Field]) -> list[str]:
    return [
        str(label)
        for one in fields.values()
        if isinstance(one, forms.ChoiceField) and isinstance(one.widget, forms.RadioSelect)
        for _, label in one.choices  # type: ignore[union-attr]
    ]


def test_those_of_every_form() -> None:
    told = {label for form in _forms() for label in _labels(form.base_fields)}
    assert len(told) > 15
    assert [one for one in told - NAMES_OF_UNITS if not one[0].isupper()] == []


@pytest.mark.parametrize("made", [FixtureServiceForm, GaugeServiceForm])
def test_those_that_depend_on_what_is_at_hand(made: type[FixtureServiceForm]) -> None:
    service = made(unit="mm", kinds=SERVICE_KINDS[Gauge], suspected=True)
    told = [*_labels(service.fields), *_labels(FindingForm(None, suspects=[]).fields)]
    assert {"Calibrated", "Yes, here: it had moved or worn", "No cause was found"} <= set(told)
    assert [one for one in told if not one[0].isupper()] == []
