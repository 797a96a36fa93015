from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from deploy.health import judge
from qc import outbox

pytestmark = pytest.mark.django_db
SILENT = timedelta(seconds=settings.WORKER_SILENT_SECONDS)
WAITING = timedelta(seconds=settings.OUTBOX_OLDEST_SECONDS)
MOMENT = timedelta(seconds=1)


@pytest.mark.parametrize(
    ("oldest_open", "heard", "said"),
    [
        (None, MOMENT, "ok"),
        (WAITING, SILENT, "ok"),
        (None, None, "no worker has been heard of"),
        (None, SILENT + MOMENT, "no worker has been heard of"),
        (WAITING + MOMENT, MOMENT, "work has waited too long"),
    ],
)
def test_what_counts_as_well(oldest_open, heard, said):
    assert judge(oldest_open=oldest_open, heard=heard) == said


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
    def gone(now: object) -> None:
        raise OperationalError("connection refused by 10.0.0.7")

    monkeypatch.setattr(outbox, "oldest_open_age", gone)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json() == {"status": "the database does not answer"}


def test_it_is_only_read(client: Client):
    assert client.post("/health").status_code == 405
