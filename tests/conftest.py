"""What any test may lean on: the servers it needs, or one line saying which is missing.

A missing server skips the test on a developer's machine and fails it where CI or
REQUIRE_SERVICES is set, so that nothing goes untested unseen.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
import redis
from django.conf import settings

from deploy.services import CHROMIUM, POSTGRES, REDIS
from tests.browsing import Browsing, chromium_path


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
