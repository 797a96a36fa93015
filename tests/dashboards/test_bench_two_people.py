"""Two people at one step: the second is told, shown what changed, and loses nothing typed."""

from __future__ import annotations

import pytest
from django.test import Client

from qc.models import Job, Kind, ReadingSet, State
from qc.operations import readings
from qc.operations.reading_rows import ReadingIn
from qc.units import mm
from tests.dashboards.pages import SignedIn, form_on, send_again
from tests.make import NOON, Shop, make_job

FOUR = {"at_0": "1.02", "at_90": "1.03", "at_180": "1.02", "at_270": "1.01"}


def opened(client: Client, address: str) -> dict[str, str]:
    return form_on(client.get(address).text, "version")


@pytest.fixture
def job(shop: Shop) -> Job:
    return make_job(shop)


def test_the_second_to_save_sees_what_the_first_wrote(
    signed_in: SignedIn, shop: Shop, job: Job
) -> None:
    address = f"/jobs/{job.pk}/as-found"
    first, second = signed_in("operator"), signed_in("lead")
    ours, theirs = opened(second, address), opened(first, address)
    typed = {"gauge": shop.gauge.pk, "solder": "1.5"}
    assert first.post(address, {**theirs, **FOUR, **typed}).status_code == 302

    answer = second.post(address, {**ours, **FOUR, **typed, "at_0": "1.05"})
    assert answer.status_code == 409
    assert "Nothing of yours was saved" in answer.text
    changed = answer.text[answer.text.index("What changed while you were typing") :]
    assert "Oskar recorded as-found readings" in changed
    assert "1.03\xa0mm" in changed
    assert f'href="/jobs/{job.pk}"' in changed
    shown = form_on(answer.text, "version")
    assert shown["at_0"] == "1.05"
    assert shown["version"] == ours["version"]
    assert ReadingSet.objects.count() == 1


def test_saving_again_without_looking_is_refused_again(
    signed_in: SignedIn, shop: Shop, job: Job
) -> None:
    address = f"/jobs/{job.pk}/as-found"
    client = signed_in("lead")
    sent = {**opened(client, address), **FOUR, "gauge": shop.gauge.pk, "why_again": "Mine is right"}
    make_first_set(shop, job)
    answer = client.post(address, sent)
    assert answer.status_code == 409
    assert send_again(client, answer, {}).status_code == 409
    now = Job.objects.get().version
    assert send_again(client, answer, {"looked": now}).status_code == 302
    assert ReadingSet.objects.count() == 2


def test_a_third_save_in_between_is_seen_too(signed_in: SignedIn, shop: Shop, job: Job) -> None:
    address = f"/jobs/{job.pk}/as-found"
    client = signed_in("lead")
    sent = {**opened(client, address), **FOUR, "gauge": shop.gauge.pk, "why_again": "Mine is right"}
    make_first_set(shop, job)
    answer = client.post(address, sent)
    looked = Job.objects.get().version
    one = ReadingSet.objects.get().readings.get()
    readings.void_reading(
        reading=one, why="Misread", replacement=mm("1.04"), by=shop.operator, at=NOON
    )
    again = send_again(client, answer, {"looked": looked})
    assert again.status_code == 409
    assert "Oskar voided a reading" in again.text


def test_having_looked_stays_when_something_else_is_refused(
    signed_in: SignedIn, shop: Shop, job: Job
) -> None:
    address = f"/jobs/{job.pk}/as-found"
    client = signed_in("lead")
    sent = {**opened(client, address), **FOUR, "gauge": shop.gauge.pk}
    make_first_set(shop, job)
    answer = client.post(address, sent)
    silent = send_again(client, answer, {"looked": Job.objects.get().version})
    assert silent.status_code == 422
    assert "needs a reason" in silent.text
    assert send_again(client, silent, {"why_again": "Mine is right"}).status_code == 302


def test_two_decisions_on_one_verdict(signed_in: SignedIn, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    address = f"/jobs/{job.pk}/verdict"
    lead, operator = signed_in("lead"), signed_in("operator")
    release = {**opened(lead, address), "decision": "release"}
    again = {**opened(operator, address), "decision": "cut_again", "why": "Want it closer"}
    assert operator.post(address, again).status_code == 302
    answer = lead.post(address, release)
    assert answer.status_code == 409
    assert "Oskar opened another round" in answer.text
    assert Job.objects.get().state == State.FOUND


def test_the_same_save_twice_writes_once(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.CUT)
    address = f"/jobs/{job.pk}/passes"
    sent = {**opened(bench, address), "dial": "2.55"}
    assert bench.post(address, sent).status_code == 302
    assert bench.post(address, sent).status_code == 409
    assert job.rounds.get().passes.filter(dial_mm="2.55").count() == 1


def make_first_set(shop: Shop, job: Job) -> None:
    readings.record_gap_readings(
        job=job,
        kind=Kind.AS_FOUND,
        readings=[ReadingIn(length=mm("1.03"), field="at_0")],
        gauge=shop.gauge,
        base_gasket=mm("0.5"),
        why_fewer="Quick look",
        by=shop.operator,
        at=NOON,
    )
