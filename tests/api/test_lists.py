"""Lists: in pages that hold still, filtered, and never a query more for more rows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from qc.models import (
    Channel,
    Flag,
    FlagState,
    Job,
    Rule,
    ServiceKind,
    Signal,
    State,
)
from qc.operations import engines, planning, reindicating, resources
from tests.api.bench import Bench
from tests.make import ALDER, EVEN, NOON, Shop, make_cylinder, make_job
from tests.make import mm as length

FEW, JUDGED, MANY = 3, 15, 30


def measured(shop: Shop, n: int) -> None:
    make_job(shop, serial=f"M-{n}", state=State.MEASURED, at=NOON + timedelta(days=n))


def journalled(shop: Shop, n: int) -> None:
    job = Job.objects.first() or make_job(shop)
    planning.note_parts_changed(job=job, why=f"Piston {n}", by=shop.operator, at=NOON)


def flagged(shop: Shop, n: int) -> None:
    round_ = make_job(shop, serial=f"F-{n}").rounds.get()
    Flag.objects.create(
        channel="tilt",
        fixture=shop.fixture,
        state=FlagState.CAUSE_FOUND,
        raised_at=NOON,
        raised_by=round_,
        moved_at=round_,
        size=0.08,
        suspects=[{"kind": "fixture", "key": shop.fixture.pk, "probability": 0.97}],
        wide_toward_deg=90,
        statistic=20,
        limit=12,
        closed_at=NOON,
        closed_by=shop.lead.person,
    )


def signalled(shop: Shop, n: int) -> None:
    Signal.objects.create(
        channel=Channel.TARGET_ERROR,
        lathe=shop.lathe,
        rule=Rule.EWMA,
        round=make_job(shop, serial=f"S-{n}").rounds.get(),
        at=NOON,
        value_mm=0.04,
        limit_mm=0.03,
    )


def serviced(shop: Shop, n: int) -> None:
    at = NOON + timedelta(days=n)
    resources.record_service(subject=shop.fixture, kind=ServiceKind.DRESSED, by=shop.lead, at=at)


def reindicated(shop: Shop, n: int) -> None:
    """Each confirmed, so that both lists have what a lead said."""
    at = NOON + timedelta(days=n)
    told = reindicating.report(
        fixture=shop.fixture, as_left_mm=Decimal("0.004"), by=shop.operator, at=at
    )
    reindicating.confirm(reported=told, by=shop.lead, at=at + timedelta(hours=1))


def edged(shop: Shop, n: int) -> None:
    resources.fit_edge(
        lathe=shop.lathe,
        slot="1",
        name=f"Insert {n + 2}",
        edge_radius_um=Decimal(20),
        by=shop.lead,
        at=NOON,
    )


def fixed(shop: Shop, n: int) -> None:
    resources.register_fixture(name=f"Plug {n}", by=shop.lead, at=NOON)


def lathed(shop: Shop, n: int) -> None:
    resources.register_lathe(name=f"Lathe {n}", by=shop.lead, at=NOON)


def gauged(shop: Shop, n: int) -> None:
    resources.register_gauge(name=f"Mic {n}", step=length("0.01"), by=shop.lead, at=NOON)


def added(shop: Shop, n: int) -> None:
    engines.add_family(by=shop.lead, at=NOON, **{**ALDER, "name": f"Kind {n}"})


def brought_in(shop: Shop, n: int) -> None:
    make_cylinder(shop, f"C-{n}")


LISTS: dict[str, Callable[[Shop, int], None]] = {
    "jobs/{job}/journal": journalled,
    "fixtures": fixed,
    "fixtures/{fixture}/service": serviced,
    "fixtures/{fixture}/re-indicated": reindicated,
    "lathes": lathed,
    "edges": edged,
    "gauges": gauged,
    "families": added,
    "cylinders": brought_in,
    "flags": flagged,
    "signals": signalled,
}


@pytest.mark.parametrize("path", LISTS)
def test_more_rows_take_no_more_queries(path: str, shop: Shop, operator: Bench) -> None:
    fill(shop, LISTS[path], 0, FEW)
    few = queries(operator, path, shop)
    fill(shop, LISTS[path], FEW, MANY)
    assert queries(operator, path, shop) == few


def test_more_jobs_take_no_more_queries(shop: Shop, operator: Bench) -> None:
    """A chart with too few jobs judges nothing and asks less: it is held against a judging one."""
    charts = [
        "fixtures/{fixture}/chart",
        "charts/target_error",
        "charts/height_error?lathe={lathe}",
    ]
    fill(shop, measured, 0, FEW)
    few = queries(operator, "jobs", shop)
    fill(shop, measured, FEW, JUDGED)
    judged = [queries(operator, path, shop) for path in charts]
    fill(shop, measured, JUDGED, MANY)
    assert queries(operator, "jobs", shop) == few
    assert [queries(operator, path, shop) for path in charts] == judged


def fill(shop: Shop, make: Callable[[Shop, int], None], start: int, stop: int) -> None:
    for n in range(start, stop):
        make(shop, n)


def queries(bench: Bench, path: str, shop: Shop) -> int:
    job = Job.objects.order_by("pk").first()
    at = path.format(
        fixture=shop.fixture.pk, lathe=shop.lathe.pk, job=None if job is None else job.pk
    )
    bench.get("me")  # the token's last use is noted once a minute
    with CaptureQueriesContext(connection) as asked:
        assert bench.get(at).status_code == 200
    return len(asked)


def test_pages_hold_still_while_jobs_are_added(shop: Shop, operator: Bench) -> None:
    numbers = [make_job(shop, serial=f"C-{n}").pk for n in range(7)]
    seen: list[int] = []
    address = "jobs?limit=3"
    while address:
        answer = operator.get(address).json
        seen += [one["number"] for one in answer["results"]]
        assert len(answer["results"]) <= 3
        make_job(shop, serial=f"later {len(seen)}")
        address = (answer["next"] or "").partition("/api/v1/")[2]
    assert seen == numbers[::-1]


def test_the_way_back_leads_to_the_same_page(shop: Shop, operator: Bench) -> None:
    for n in range(5):
        make_job(shop, serial=f"C-{n}")
    first = operator.get("jobs?limit=2").json
    second = operator.get(first["next"].partition("/api/v1/")[2]).json
    back = operator.get(second["previous"].partition("/api/v1/")[2]).json
    assert back["results"] == first["results"]


def test_a_line_of_the_list(shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.MEASURED, achieved={**EVEN, 90: "0.53"})
    [line] = operator.get("jobs").json["results"]
    assert line["number"] == job.pk
    assert (line["state"], line["verdict"]) == ("measured", "undecided")
    assert (line["family"], line["serial"], line["fixture"]) == ("Alder 46", "C-1", "Plug A")
    # (0.50 + 0.53 + 0.50 + 0.49) / 4 = 0.505; B = (0.53 - 0.49) / 2 = 0.02, D = 0.04.
    assert line["target_error"] == {"value": "0.005", "unit": "mm"}
    assert line["side_to_side"] == {"value": "0.04", "unit": "mm"}


def test_filters(shop: Shop, operator: Bench) -> None:
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    opened = make_job(shop, serial="C-1").pk
    done = make_job(
        shop, serial="C-2", state=State.RELEASED, at=NOON + timedelta(days=2), fixture=other
    ).pk
    cut = make_job(shop, serial="C-3", state=State.CUT, at=NOON + timedelta(days=4)).pk

    def numbers(query: str) -> list[int]:
        return [one["number"] for one in operator.get(f"jobs?{query}").json["results"]]

    assert numbers("") == [cut, done, opened]
    assert numbers("state=released") == [done]
    assert numbers("state=at_work") == [cut, opened]
    assert numbers(f"fixture={other.pk}") == [done]
    assert numbers(f"fixture={shop.fixture.pk}") == [cut]
    assert numbers(f"family={shop.family.pk}") == [cut, done, opened]
    assert numbers(f"family={shop.family.pk + 1}") == []
    assert numbers("since=2026-03-04T12:00:00Z") == [cut, done]
    assert numbers("until=2026-03-04T12:00:00Z") == [opened]
    assert numbers("since=2026-03-04T13:00:00%2B01:00&until=2026-03-05T00:00:00") == [done]


def test_filters_of_the_shops_things(shop: Shop, lead: Bench) -> None:
    resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    resources.retire(resource=shop.fixture, why="Worn", by=shop.lead, at=NOON)
    make_cylinder(shop, "C-7")

    def names(path: str, name: str = "name") -> list[str]:
        return [one[name] for one in lead.get(path).json["results"]]

    assert names("fixtures") == ["Plug A", "Plug B"]
    assert names("fixtures?retired=false") == ["Plug B"]
    assert names("fixtures?retired=true") == ["Plug A"]
    assert names("cylinders?serial=c-7", "serial") == ["C-7"]
    assert names("cylinders?serial=C-8", "serial") == []


def test_filters_of_flags_and_signals(shop: Shop, operator: Bench) -> None:
    flagged(shop, 1)
    Flag.objects.create(
        channel="tilt",
        fixture=shop.fixture,
        raised_at=NOON,
        raised_by=Job.objects.get().rounds.get(),
        moved_at=Job.objects.get().rounds.get(),
        size=0.05,
        suspects=[{"kind": "fixture", "key": shop.fixture.pk, "probability": 0.97}],
        wide_toward_deg=10,
        statistic=15,
        limit=12,
    )
    signalled(shop, 2)

    def count(path: str) -> int:
        return len(operator.get(path).json["results"])

    assert [count("flags"), count("flags?open=true"), count("flags?open=false")] == [2, 1, 1]
    assert count(f"flags?fixture={shop.fixture.pk + 1}") == 0
    assert [count("signals"), count("signals?channel=height_error")] == [1, 0]
    assert count(f"signals?lathe={shop.lathe.pk}&channel=target_error") == 1
    Signal.objects.update(withdrawn_at=NOON)
    assert count("signals") == 0


def test_the_journal_reads_oldest_first(shop: Shop, viewer: Bench) -> None:
    job = make_job(shop, state=State.FOUND)
    entries = viewer.get(f"jobs/{job.pk}/journal").json["results"]
    assert [one["action"] for one in entries] == ["job.opened", "readings.as_found"]
    assert {one["by"] for one in entries} == {shop.operator.person.username}
    assert entries[1]["after"]["readings"][0]["value"] == "1.02"
