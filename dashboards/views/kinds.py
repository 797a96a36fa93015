"""The four kinds of resource: what each is called, its forms, and how a new one is registered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dashboards.forms.columns import ColumnsForm
from dashboards.forms.resources import (
    EdgeForm,
    FixtureForm,
    FixtureServiceForm,
    GaugeForm,
    GaugeServiceForm,
    LatheForm,
    NewGaugeForm,
    ServiceForm,
)
from qc import access
from qc.models import Fixture, Gauge, Lathe, Resource, ToolEdge
from qc.operations import resources


@dataclass(frozen=True)
class Registering:
    form: type[ColumnsForm]
    save: Callable[..., Resource]


@dataclass(frozen=True)
class Kind:
    """`slug` names its addresses. `new` None: a tool edge is fitted in a lathe, not registered."""

    slug: str
    noun: str
    plural: str
    model: type[Resource]
    find: Callable[[object], Any]
    form: type[ColumnsForm]
    new: Registering | None
    service_form: type[ServiceForm] = ServiceForm

    @property
    def page(self) -> str:
        return f"dashboards:shop_{self.slug}"

    @property
    def lanes_page(self) -> str:
        return f"{self.page}_lanes_figure"

    @property
    def lanes_shape(self) -> str:
        """What its drawing is laid out as: a gauge's has two lanes."""
        return "lanes" if self.slug == "gauge" else "strip"

    @property
    def list_page(self) -> str:
        return f"{self.page}s"

    @property
    def new_page(self) -> str:
        return f"{self.page}_new"

    @property
    def change_page(self) -> str:
        return f"{self.page}_change"

    @property
    def service_page(self) -> str:
        return f"{self.page}_service"

    @property
    def retire_page(self) -> str:
        return f"{self.page}_retire"


LATHE = Kind(
    slug="lathe",
    noun="lathe",
    plural="Lathes",
    model=Lathe,
    find=access.lathe,
    form=LatheForm,
    new=Registering(LatheForm, resources.register_lathe),
)
EDGE = Kind(
    slug="edge",
    noun="tool edge",
    plural="Tool edges",
    model=ToolEdge,
    find=access.edge,
    form=EdgeForm,
    new=None,
)
GAUGE = Kind(
    slug="gauge",
    noun="gauge",
    plural="Gauges",
    model=Gauge,
    find=access.gauge,
    form=GaugeForm,
    new=Registering(NewGaugeForm, resources.register_gauge),
    service_form=GaugeServiceForm,
)
FIXTURE = Kind(
    slug="fixture",
    noun="fixture",
    plural="Fixtures",
    model=Fixture,
    find=access.fixture,
    form=FixtureForm,
    new=Registering(FixtureForm, resources.register_fixture),
    service_form=FixtureServiceForm,
)
KINDS = (LATHE, EDGE, GAUGE, FIXTURE)
