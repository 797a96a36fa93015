"""What any test may lean on: the servers it needs, or one line saying which is missing.

A missing server skips the test on a developer's machine and fails it where CI or
REQUIRE_SERVICES is set, so that nothing goes untested unseen.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any, TypeVar

import pytest
import redis
from django.conf import settings
from django.db import transaction

from deploy.services import CHROMIUM, POSTGRES, REDIS
from tests.browsing import Browsing, chromium_path

Made = TypeVar("Made")
MadeOnce = Callable[[Callable[[], Made]], Made]

# Few tests in a file, each long. Begun last, they would leave the other test processes idle.
BEGUN_FIRST = ["deploy", "workers", "browser", "races"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files of long tests come first; the order is otherwise as collected. deploy/test tells
    pytest-xdist to keep to it."""

    def turn(item: pytest.Item) -> int:
        folder = item.nodeid.removeprefix("tests/").split("/")[0]
        return BEGUN_FIRST.index(folder) if folder in BEGUN_FIRST else len(BEGUN_FIRST)

    items.sort(key=turn)


def missing_for(item: pytest.Item) -> Iterator[str]:
    if item.get_closest_marker("postgres") and POSTGRES not in os.environ:
        yield f"needs a run on PostgreSQL: deploy/test --postgres, or set {POSTGRES}"
    if item.get_closest_marker("redis") and REDIS not in os.environ:
        yield f"needs Redis: deploy/test, or set {REDIS}"
    if item.get_closest_marker("browser") and chromium_path() is None:
        yield f"needs Chromium: install it, or name it in {CHROMIUM}"


def services_are_required() -> bool:
    return bool(os.environ.get("CI") or os.environ.get("REQUIRE_SERVICES"))


def pytest_runtest_setup(item: pytest.Item) -> None:
    for reason in missing_for(item):
        if services_are_required():
            pytest.fail(reason, pytrace=False)
        pytest.skip(reason)


@pytest.fixture(scope="module")
def made_once(django_db_setup: None, django_db_blocker: Any) -> Iterator[MadeOnce]:
    """`made_once(make)`: what `make()` writes stands for every test of the module, which undoes its
    own writes alone. Hand each test a deep copy of what it returned."""
    with ExitStack() as module:

        def run(make: Callable[[], Made]) -> Made:
            with django_db_blocker.unblock():
                module.enter_context(transaction.atomic())
                module.callback(transaction.set_rollback, True)
                return make()

        yield run
        with django_db_blocker.unblock():
            module.close()


@pytest.fixture
def redis_url() -> str:
    """An emptied Redis of this test process's own. Tests that use it carry the mark `redis`."""
    url = str(settings.CELERY_BROKER_URL)
    with redis.Redis.from_url(url) as server:
        server.flushdb()
    return url


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browsing]:
    with Browsing.started() as browsing:
        yield browsing


@pytest.fixture
def on_page(chromium: Browsing) -> Iterator[Browsing.OnPage]:
    """Run a function with a page of a fresh browser: `on_page(lambda page: page.goto(...))`.

    The page lives as long as the test. At its end any script error or any breach of the content
    policy that the browser reported fails the test.
    """
    with chromium.fresh() as run:
        yield run
