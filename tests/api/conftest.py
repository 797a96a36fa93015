"""A small shop and a bench token for each of its people."""

from __future__ import annotations

import pytest

from tests.api.bench import Bench
from tests.make import Shop, make_shop


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def operator(shop: Shop) -> Bench:
    return Bench.of(shop.operator)


@pytest.fixture
def lead(shop: Shop) -> Bench:
    return Bench.of(shop.lead)


@pytest.fixture
def viewer(shop: Shop) -> Bench:
    return Bench.of(shop.viewer)
