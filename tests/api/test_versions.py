"""The version as an ETag: cheap reads, and no change made from a copy that is out of date."""

from __future__ import annotations

import pytest

from qc.models import Fixture, Job
from tests.api.bench import Bench, gaps, mm
from tests.make import FOUND, Shop, make_job


def test_each_answer_carries_the_tag_for_the_next_step(shop: Shop, operator: Bench) -> None:
    job = make_job(shop)
    tag = operator.get(f"jobs/{job.pk}").headers["ETag"]
    assert tag == '"1"'
    body = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "readings": gaps(FOUND)}
    found = operator.post(f"jobs/{job.pk}/as-found", body, match=tag)
    assert found.headers["ETag"] == '"2"'
    assert found.json["version"] == 2
    plan = operator.post(
        f"jobs/{job.pk}/plan", {"gasket_next": mm("0.5")}, match=found.headers["ETag"]
    )
    assert plan.headers["ETag"] == operator.get(f"jobs/{job.pk}").headers["ETag"] == '"3"'


@pytest.mark.parametrize(
    ("tags", "status"),
    [
        ('"1"', 304),
        ('W/"1"', 304),
        ('"0", "1"', 304),
        ("*", 304),
        ('"2"', 200),
        ('""', 200),
        ("1", 400),
        ('"1', 400),
    ],
)
def test_a_kept_copy_is_confirmed_or_replaced(
    tags: str, status: int, shop: Shop, operator: Bench
) -> None:
    job = make_job(shop)
    answer = operator.get(f"jobs/{job.pk}", headers={"If-None-Match": tags})
    assert answer.status_code == status
    if status == 304:
        assert (answer.content, answer.headers["ETag"]) == (b"", '"1"')


@pytest.mark.parametrize(
    ("match", "status", "code"),
    [
        ('"1"', 200, None),
        ("*", 200, None),
        ('"7", "1"', 200, None),
        ('"7"', 412, "changed_meanwhile"),
        ('W/"1"', 412, "changed_meanwhile"),
        ('""', 412, "changed_meanwhile"),
        ("1", 400, "bad_header"),
        ('"1" "2"', 400, "bad_header"),
        (None, 428, "precondition_required"),
    ],
)
def test_a_change_says_what_it_was_made_from(
    match: str | None, status: int, code: str | None, shop: Shop, lead: Bench
) -> None:
    job = make_job(shop)
    scrapped = lead.post(f"jobs/{job.pk}/scrap", {"why": "Cracked"}, match=match)
    changed = lead.patch(f"fixtures/{shop.fixture.pk}", {"note": "Plug, 1 of 2"}, match=match)
    retired = lead.post(f"gauges/{shop.gauge.pk}/retire", {"why": "Dropped"}, match=match)
    family = lead.post(f"families/{shop.family.pk}/retire", {"why": "No parts"}, match=match)
    for answer in (scrapped, changed, retired, family):
        assert answer.status_code == status
        if code:
            assert answer.json["code"] == code
    assert Job.objects.get().is_closed is (status == 200)
    assert bool(Fixture.objects.get().note) is (status == 200)


def test_the_refusal_says_which_version_it_is_now(shop: Shop, lead: Bench) -> None:
    answer = lead.patch(f"fixtures/{shop.fixture.pk}", {"note": "x"}, match='"4"')
    assert "Someone else saved Plug A" in answer.json["detail"]
    assert "you saw version 4, it is now 1" in answer.json["detail"]


@pytest.mark.parametrize("kind", ["fixtures", "lathes", "edges", "gauges", "families"])
def test_a_thing_of_the_shop_is_kept_by_its_tag(kind: str, shop: Shop, lead: Bench) -> None:
    number = lead.get(kind).json["results"][0]["id"]
    path = f"{kind}/{number}"
    tag = lead.get(path).headers["ETag"]
    assert lead.get(path, headers={"If-None-Match": tag}).status_code == 304
    changed = lead.patch(path, {"note": "By the window"}, match=tag)
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag
    assert changed.json["note"] == "By the window"
    assert lead.get(path, headers={"If-None-Match": tag}).status_code == 200
    assert lead.patch(path, {"note": "Elsewhere"}, match=tag).status_code == 412
