"""Two requests of one bench tool at the same moment, over the API, on a real PostgreSQL."""

from __future__ import annotations

from typing import Any

import pytest

from api import retry
from api.models import IdempotentReply
from qc.models import Job, Reading, ReadingSet
from tests.api.bench import Bench, gaps, mm
from tests.make import FOUND, Shop, make_cylinder, make_job, make_shop
from tests.races.conftest import BothAtOnce

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def two_of(shop: Shop) -> list[Bench]:
    """Two connections with one token."""
    first = Bench.of(shop.operator)
    second = Bench(None)
    second.identity = first.identity
    return [first, second]


def test_one_key_sent_twice_at_once_writes_once(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    benches, body = two_of(shop), {"cylinder": make_cylinder(shop).pk}
    first, second = both_at_once(lambda n: benches[n].post("jobs", body, key="same"))
    assert status(first) == status(second) == 201
    assert first.content == second.content  # type: ignore[attr-defined]
    assert sorted("Idempotency-Replayed" in one.headers for one in (first, second)) == [  # type: ignore[attr-defined]
        False,
        True,
    ]
    assert Job.objects.count() == IdempotentReply.objects.count() == 1


def test_the_harness_sees_two_writes(
    both_at_once: BothAtOnce, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the key not looked at, both get through; else the test above proves nothing."""
    monkeypatch.setattr(retry, "_key_of", lambda request: None)
    shop = make_shop()
    benches, body = two_of(shop), {"cylinder": make_cylinder(shop).pk, "beside_open": True}
    first, second = both_at_once(lambda n: benches[n].post("jobs", body, key="same"))
    assert status(first) == status(second) == 201
    assert Job.objects.count() == 2


def test_one_key_with_two_bodies_at_once(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    benches = two_of(shop)
    bodies = [{"cylinder": make_cylinder(shop, f"C-{n}").pk} for n in range(2)]
    answers = both_at_once(lambda n: benches[n].post("jobs", bodies[n], key="same"))
    assert sorted(map(status, answers)) == [201, 422]
    assert Job.objects.count() == 1


def test_a_refused_first_leaves_the_key_to_the_second(both_at_once: BothAtOnce) -> None:
    """Whoever is refused gives the key back, so the other is never told that it was used."""
    shop = make_shop()
    benches, cylinder = two_of(shop), make_cylinder(shop).pk
    bodies = [{"cylinder": cylinder, "target": mm("0.1")}, {"cylinder": cylinder}]
    answers = both_at_once(lambda n: benches[n].post("jobs", bodies[n], key="same"))
    assert status(answers[1]) == 201
    assert status(answers[0]) == 422
    assert Job.objects.count() == 1


def test_two_benches_saving_one_step(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    benches, job = two_of(shop), make_job(shop)
    body = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "readings": gaps(FOUND)}
    answers = both_at_once(
        lambda n: benches[n].post(f"jobs/{job.pk}/as-found", body, match='"1"', key=f"bench-{n}")
    )
    assert sorted(map(status, answers)) == [200, 412]
    assert (ReadingSet.objects.count(), Reading.objects.count()) == (1, 4)


def status(answer: Any) -> int:
    assert hasattr(answer, "status_code"), answer
    return int(answer.status_code)
