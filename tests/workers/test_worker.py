"""The big shop's way: a real relay and Celery worker on a real Redis do the outbox's work."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from urllib.parse import quote

import pytest
import redis
from django.conf import settings
from django.db import connection

from deploy.bootstrap import PROJECT
from deploy.services import POSTGRES, REDIS
from qc.models import Flag, Heartbeat, OutboxItem, State
from tests.make import EVEN, NOON, make_job, make_shop

pytestmark = [
    pytest.mark.redis,
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
]
KNOCKED = {0: "0.50", 90: "0.54", 180: "0.50", 270: "0.46"}
PATIENCE_S = 240
WORKER = ["-m", "celery", "-A", "deploy.celery", "worker", "--pool", "solo", "--loglevel", "ERROR"]
RELAY = ["manage.py", "relay", "--poll-seconds", "0.2"]


def address_of_test_database() -> str:
    """The address of the database this test runs in, for processes of their own."""
    told = connection.settings_dict
    who = quote(str(told["USER"]))
    if told["PASSWORD"]:
        who += f":{quote(str(told['PASSWORD']))}"
    host = quote(str(told["HOST"] or "127.0.0.1"), safe="")
    return f"postgresql://{who}@{host}:{told['PORT'] or 5432}/{told['NAME']}"


@contextmanager
def process(arguments: list[str]) -> Iterator[subprocess.Popen[bytes]]:
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        POSTGRES: address_of_test_database(),
        REDIS: settings.CELERY_BROKER_URL.rpartition("/")[0],
    }
    started = subprocess.Popen([sys.executable, *arguments], cwd=PROJECT, env=env)
    try:
        yield started
    finally:
        started.send_signal(signal.SIGKILL)
        started.wait()


def wait_for(claim: Callable[[], bool], *, what: str) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not claim():
        assert time.monotonic() < deadline, f"waited {PATIENCE_S} s for {what}"
        time.sleep(0.2)


def nothing_open() -> bool:
    return not OutboxItem.objects.filter(done_at=None).exists()


def test_relay_and_worker_raise_the_flag(redis_url: str) -> None:
    shop = make_shop()
    for number in range(10):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"C-{number}",
            achieved=EVEN if number < 5 else KNOCKED,
            at=NOON + timedelta(days=number),
        )
    assert not nothing_open()
    with process(RELAY), process(WORKER):
        wait_for(nothing_open, what="the worker to finish the outbox")
    assert Flag.objects.get().fixture == shop.fixture
    assert Heartbeat.objects.filter(worker="relay").exists()


def test_work_outlives_an_emptied_redis(redis_url: str) -> None:
    """Redis never holds the truth: what was handed over and lost is handed over again."""
    shop = make_shop()
    make_job(shop, state=State.MEASURED)
    with redis.Redis.from_url(redis_url) as broker:
        with process(RELAY):
            wait_for(lambda: broker.dbsize() > 0, what="the relay to send")
        # No worker ever took it, and the broker forgets everything.
        broker.flushdb()
    assert not nothing_open()
    OutboxItem.objects.update(claimed_until=NOON)  # the lease has run out
    with process(RELAY), process(WORKER):
        wait_for(nothing_open, what="the work to be done after all")
