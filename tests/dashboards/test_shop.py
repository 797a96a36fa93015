"""The shop's own pages: the index, who may change what, the cylinders, and lists however long."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from qc.models import (
    Fixture,
    Role,
    ShopPolicy,
    State,
)
from qc.operations import engines, people, policy, resources
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import filled
from tests.dashboards.permissions import LOOKS
from tests.make import ALDER, NOON, Shop, make_job, make_person

KINDS = ("lathe", "edge", "gauge", "fixture")


def test_the_index_counts_what_the_shop_has(shop: Shop, bench: Client) -> None:
    page = bench.get("/shop").text
    assert "A lead changes what is here." in page
    for place in ("lathes", "edges", "gauges", "fixtures", "families", "cylinders", "people"):
        assert f'href="/shop/{place}"' in page


@pytest.mark.parametrize("kind", KINDS)
def test_those_who_may_not_change_are_offered_no_change(
    shop: Shop, bench: Client, kind: str
) -> None:
    for address in (f"/shop/{kind}s", f"/shop/{kind}s/{getattr(shop, kind).pk}"):
        page = bench.get(address).text
        assert "/new" not in page
        for deed in ("change", "retire", "service"):
            assert f"/{deed}" not in page


@pytest.mark.django_db
def test_every_page_opens_in_a_shop_that_has_nothing_yet() -> None:
    client = Client()
    client.force_login(make_person("lena", Role.LEAD))
    for row in LOOKS:
        if row.method == "get" and not row.where:
            assert client.get(reverse(f"dashboards:{row.name}")).status_code == 200, row.name
    where = "/shop/settings/change"
    done = client.post(where, filled(client, where, shop_name="Harbour Lane", why="Ours"))
    assert done.status_code == 302
    assert ShopPolicy.objects.latest("pk").shop_name == "Harbour Lane"


def test_cylinders_are_found_and_paged(shop: Shop, bench: Client) -> None:
    for n in range(27):
        engines.register_cylinder(
            family=shop.family,
            serial=f"S-{n:02}",
            by=shop.operator,
            at=NOON,
            customer_reference="Reed & Sons" if n < 3 else "",
        )
    page = bench.get("/shop/cylinders").text
    assert "Page 1 of 2" in page
    assert "S-26" in page
    assert "S-01" not in page
    found = bench.get("/shop/cylinders?words=reed+s-01").text
    assert "S-01" in found
    assert "S-02" not in found
    assert 'value="reed s-01"' in found
    assert "Try fewer" in bench.get("/shop/cylinders?words=nobody").text
    assert bench.get("/shop/cylinders?page=many").status_code == 200


def test_a_cylinder_shows_what_it_gave_and_its_jobs(shop: Shop, bench: Client) -> None:
    job = make_job(shop, state=State.MEASURED)
    page = bench.get(f"/shop/cylinders/{job.cylinder_id}").text
    assert "0.520" in page
    assert "0.980" in page
    assert f"Job {job.pk}" in page


def test_lists_take_as_many_queries_at_thirty_as_at_three(shop: Shop, lead: Client) -> None:
    lists = [f"/shop/{kind}s" for kind in KINDS]
    lists += [f"/shop/{name}" for name in ("families", "cylinders", "people", "tokens", "settings")]
    addresses = [
        *lists,
        "/shop",
        f"/shop/lathes/{shop.lathe.pk}",
        f"/shop/fixtures/{shop.fixture.pk}",
    ]

    def more(numbers: range) -> None:
        for n in numbers:
            told = {"by": shop.lead, "at": NOON + timedelta(minutes=n)}
            resources.register_lathe(name=f"Lathe {n}", **told)
            resources.register_fixture(name=f"Plug {n}", **told)
            resources.fit_edge(
                lathe=shop.lathe, slot="1", name=f"Bit {n}", edge_radius_um=Decimal(9), **told
            )
            resources.record_service(subject=shop.fixture, kind="dressed", **told)
            engines.add_family(**{**ALDER, "name": f"Alder {100 + n}"}, **told)
            engines.register_cylinder(family=shop.family, serial=f"S-{n}", **told)
            people.make_token(person=shop.viewer.person, name=f"T{n}", role="viewer", **told)
            policy.change_policy(why="Busier", season_jobs=301 + n, **told)

    more(range(3))
    few = [queries_of(lead, one) for one in addresses]
    more(range(3, 30))
    assert [queries_of(lead, one) for one in addresses] == few
    assert Fixture.objects.count() == 31
