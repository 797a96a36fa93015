"""The demo shop before its first job: people, settings, families, fixtures, lathes and gauges."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

from deploy.demo.shop import FAMILIES, FIXTURES, GAUGES, LATHES, PEOPLE
from qc.actor import Actor
from qc.models import EngineFamily, Fixture, Gauge, Lathe, Role, ToolEdge
from qc.operations import engines, people, policy, resources
from qc.units import Length, Unit


@dataclass
class Bench:
    """The demo shop's rows, by the numbers the season speaks of."""

    people: dict[str, Actor]
    families: list[EngineFamily]
    fixtures: list[Fixture]
    lathes: list[Lathe]
    gauges: list[Gauge]
    edges: dict[int, ToolEdge] = field(default_factory=dict)

    @property
    def lead(self) -> Actor:
        return self.people["ines"]


def furnish(*, at: datetime, until: datetime, password: str) -> Bench:
    """Everything is there from `at` on; gauges are due for calibration after `until`."""
    policy.ensure_policy(at=at)
    crew: dict[str, Actor] = {}
    for one in PEOPLE:
        crew[one.username] = Actor(
            people.add_person(
                username=one.username,
                name=one.name,
                password=password,
                role=Role(one.role),
                by=crew.get("ines"),
                at=at,
                unit=Unit(one.unit),
            )
        )
    lead = crew["ines"]
    policy.change_policy(
        by=lead,
        at=at,
        why="First settings of the shop.",
        shop_name="Hollow Lane Two-Strokes",
        velocity_limit_m_s=Decimal(25),
        velocity_limit_says="our own; published limits disagree (15 to 30 m/s)",
        running_gap_limit_mm=Decimal("0.20"),
        running_gap_limit_says="our own, at free running speed",
    )
    bench = Bench(
        people=crew,
        families=[engines.add_family(by=lead, at=at, **columns) for columns in FAMILIES],
        fixtures=[resources.register_fixture(name=one, by=lead, at=at) for one in FIXTURES],
        lathes=[resources.register_lathe(name=one, by=lead, at=at) for one in LATHES],
        gauges=[
            resources.register_gauge(
                name=name,
                step=Length(Decimal(step), Unit(unit)),
                calibration_due=(until + timedelta(days=12 + 90 * order)).date(),
                calibration_u_mm=u_mm,
                by=lead,
                at=at,
            )
            for order, (name, step, unit, u_mm) in enumerate(GAUGES)
        ],
    )
    for number in range(len(LATHES)):
        fit_edge(bench, number, at=at)
    return bench


def fit_edge(bench: Bench, lathe: int, *, at: datetime) -> None:
    count = ToolEdge.objects.filter(lathe=bench.lathes[lathe]).count() + 1
    bench.edges[lathe] = resources.fit_edge(
        lathe=bench.lathes[lathe],
        slot="1",
        name=f"{bench.lathes[lathe].name.split()[0]} insert {count}",
        edge_radius_um=Decimal(20),
        by=bench.lead,
        at=at,
    )
