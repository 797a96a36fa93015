"""Two people at once, on a real PostgreSQL: threads that set off together, each connected."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

BothAtOnce = Callable[[Callable[[int], object]], list[object]]


@pytest.fixture
def both_at_once(transactional_db: None) -> BothAtOnce:
    """Run `act(0)` and `act(1)` at the same moment; what each returned, or the error it raised."""

    def run(act: Callable[[int], object]) -> list[object]:
        barrier = threading.Barrier(2)

        def one(number: int) -> object:
            try:
                barrier.wait(timeout=10)
                return act(number)
            except Exception as error:
                return error
            finally:
                connection.close()

        with ThreadPoolExecutor(2) as pool:
            return list(pool.map(one, range(2)))

    return run
