"""Every page and every form, for every role: let in or turned away, as the table says."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, reverse

from dashboards.urls import urlpatterns
from qc.models import (
    Baseline,
    ChartKind,
    Happening,
    Pass,
    Reading,
    ReadingSet,
    Role,
    State,
    StoredChart,
)
from qc.operations import notices, people, reindicating, webhooks
from tests.dashboards.pages import SignedIn
from tests.dashboards.permissions import ROWS, Row
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job
from tests.studies import (
    check_gauge,
    closed_study,
    make_standard,
    make_study,
    read_study,
    scattered,
)

ROLES = ("visitor", "viewer", "operator", "lead")


def names(patterns: list[URLPattern | URLResolver]) -> Iterator[str]:
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from names(one.url_patterns)
        else:
            yield one.name or str(one.pattern)


def test_every_address_is_in_the_table_and_the_table_names_no_other() -> None:
    assert set(names(urlpatterns)) == {row.name for row in ROWS}


def test_every_row_speaks_of_every_role() -> None:
    assert [row for row in ROWS if set(row.status) != set(ROLES)] == []


@pytest.fixture
def keys(shop: Shop) -> dict[str, int]:
    """What the table's words stand for."""
    job = make_job(shop, state=State.MEASURED)
    round_ = job.rounds.get()
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    own_flag = make_flag(round_, kind="person", key=shop.operator.person.pk)
    token, _ = people.make_token(
        person=shop.operator.person, name="Stand 1", role=Role.OPERATOR, by=shop.lead, at=NOON
    )
    study = make_study(shop, people=[shop.operator.person, shop.lead.person])
    read_study(study, scattered(shop), by=shop.operator, most=1)
    [check] = check_gauge(shop, make_standard(shop), ["0.501"])
    baseline = Baseline.objects.create(
        chart=StoredChart.objects.create(kind=ChartKind.ERRORS, key="height_error/shop"),
        centre_mm=0.0,
        sigma_mm=0.01,
        job_count=40,
        pair_count=39,
        holds_from=NOON,
        frozen_at=NOON,
        frozen_by=shop.lead.person,
        why="A good month",
    )
    reported = reindicating.report(
        fixture=shop.fixture, as_left_mm=Decimal("0.004"), by=shop.operator, at=NOON
    )
    webhook = webhooks.add_webhook(name="Lamp", url="http://127.0.0.1:9/", by=shop.lead, at=NOON)
    [notice] = notices.announce(flag, Happening.RAISED, at=NOON)
    return {
        "reindication": reported.pk,
        "webhook": webhook.pk,
        "notice": notice.pk,
        "baseline": baseline.pk,
        "study": study.pk,
        "trial": study.turns.get(order=1).readings.get().pk,
        "closed_study": closed_study(shop, name="Closed").pk,
        "standard": check.standard_id,
        "check": check.pk,
        "job": job.pk,
        "cylinder": job.cylinder_id,
        "family": shop.family.pk,
        "fixture": shop.fixture.pk,
        "lathe": shop.lathe.pk,
        "edge": shop.edge.pk,
        "gauge": shop.gauge.pk,
        "flag": flag.pk,
        "own_flag": own_flag.pk,
        "token": token.pk,
        "person": shop.operator.person.pk,
        "set": ReadingSet.objects.get(kind="achieved").pk,
        "reading": Reading.objects.get(kind="achieved", position_deg=0).pk,
        "pass": Pass.objects.get(number=1).pk,
    }


@pytest.mark.parametrize("role", ROLES)
def test_a_role_gets_what_the_table_says(
    signed_in: SignedIn, keys: dict[str, int], role: str
) -> None:
    client = signed_in(role)

    def status(row: Row) -> int:
        """What the row's request gets, with whatever it wrote taken back."""
        where = {name: keys.get(value, value) for name, value in row.where.items()}
        address = reverse(f"dashboards:{row.name}", kwargs=where)
        with transaction.atomic():
            answer = getattr(client, row.method)(address, row.data)
            transaction.set_rollback(True)
        return answer.status_code

    # Signing out last: it takes the client's cookie with it, which no rollback brings back.
    found = [(row.name, row.method, status(row)) for row in ROWS if row.name != "sign_out"]
    found += [(row.name, row.method, status(row)) for row in ROWS if row.name == "sign_out"]
    want = [(row.name, row.method, row.status[role]) for row in ROWS]
    assert sorted(found) == sorted(want)


def test_a_visitor_comes_back_to_the_page_asked_for(
    signed_in: SignedIn, keys: dict[str, int]
) -> None:
    answer = signed_in("visitor").get(f"/jobs/{keys['job']}/plan")
    assert answer.headers["Location"] == f"/sign-in?next=/jobs/{keys['job']}/plan"


def test_forms_are_refused_without_their_token(shop: Shop) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(shop.operator.person)
    answer = client.post("/jobs/new", {})
    assert answer.status_code == 403
    assert "Nothing was saved" in answer.text
