"""A shop whose mail server and one webhook receiver are there, for tests of notices."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from qc import outbox
from qc.models import (
    Round,
    State,
)
from tests.make import Shop, make_job
from tests.receiving import Receiver, receiving


@pytest.fixture
def mail_server(settings: object) -> None:
    settings.MAIL_IS_SET_UP = True  # type: ignore[attr-defined]
    settings.DEFAULT_FROM_EMAIL = "ledger@shop.example"  # type: ignore[attr-defined]
    settings.SITE_ADDRESS = "https://shop.example"  # type: ignore[attr-defined]


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as one:
        yield one


@pytest.fixture
def measured(shop: Shop) -> Round:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    outbox.drain()
    return round_
