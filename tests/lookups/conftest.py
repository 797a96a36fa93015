"""A shop with one of everything."""

from __future__ import annotations

import pytest

from tests.make import Shop, make_shop


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()
