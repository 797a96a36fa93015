from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from deploy.health import judge
from qc import outbox
from qc.lookups.pages.work import WorkState
from qc.models import OutboxItem

pytestmark = pytest.mark.django_db
SILENT = timedelta(seconds=settings.WORKER_SILENT_SECONDS)
WAITING = timedelta(seconds=settings.OUTBOX_OLDEST_SECONDS)
MOMENT = timedelta(seconds=1)


@pytest.mark.parametrize(
    ("waited", "heard", "given_up", "said"),
    [
        (None, MOMENT, 0, "ok"),
        (WAITING, SILENT, 0, "ok"),
        (None, None, 0, "no worker has been heard of"),
        (None, SILENT + MOMENT, 0, "no worker has been heard of"),
        (WAITING + MOMENT, MOMENT, 0, "work has waited too long"),
        (None, MOMENT, 1, "degraded"),
        (WAITING + MOMENT, MOMENT, 1, "work has waited too long"),
    ],
)
def test_what_counts_as_well(waited, heard, given_up, said):
    now = timezone.now()
    state = WorkState(
        now=now,
        heard_at=None if heard is None else now - heard,
        asked_at=None if waited is None else now - waited,
        given_up_count=given_up,
    )
    assert judge(state) == said


def test_work_given_up_is_told_while_the_service_serves(client: Client):
    outbox.beat("relay")
    item = outbox.ask("qc.learn", at=timezone.now(), round_id=1)
    OutboxItem.objects.filter(pk=item.pk).update(dead_at=timezone.now())
    answer = client.get("/health")
    assert answer.status_code == 200
    assert (answer.json()["status"], answer.json()["work_given_up"]) == ("degraded", 1)


def test_a_worker_heard_and_no_work_open(client: Client):
    outbox.beat("outbox thread")
    answer = client.get("/health")
    assert answer.status_code == 200
    assert answer.json()["status"] == "ok"
    assert answer.json()["oldest_open_work_s"] is None


def test_no_worker_ever(client: Client):
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json()["worker_heard_s"] is None


def test_work_left_lying(client: Client):
    outbox.beat("relay")
    outbox.ask("qc.learn", at=timezone.now() - WAITING - MOMENT, round_id=1)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json()["oldest_open_work_s"] > WAITING.total_seconds()


def test_a_database_that_does_not_answer(client: Client, monkeypatch):
    def gone(*, now: object) -> None:
        raise OperationalError("connection refused by 10.0.0.7")

    monkeypatch.setattr("deploy.health.work_state", gone)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json() == {"status": "the database does not answer"}


def test_it_is_only_read(client: Client):
    assert client.post("/health").status_code == 405
