"""A shop with one of everything, and a client for each role."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from tests.make import Shop, make_shop


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def signed_in(shop: Shop) -> Callable[[str], Client]:
    """`signed_in("lead")`: a client of that role; "visitor" is nobody."""

    def client_of(role: str) -> Client:
        client = Client()
        if role != "visitor":
            client.force_login(getattr(shop, role).person)
        return client

    return client_of


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """The operator's tablet."""
    return signed_in("operator")


@pytest.fixture
def lead(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("lead")
