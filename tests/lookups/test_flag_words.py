"""How a chance is spoken of."""

from __future__ import annotations

import pytest

from qc.lookups.flags.flag_words import one_in


@pytest.mark.parametrize(
    ("probability", "spoken"),
    [
        (0.0, "less than 1 time in 1000"),
        (0.001, "1 time in 1000"),
        (0.11, "1 time in 9"),
        (0.5, "1 time in 2"),
        (0.56, "6 times in 10"),
        (0.949, "9 times in 10"),
        (0.95, "more than 9 times in 10"),
        (1.0, "more than 9 times in 10"),
    ],
)
def test_a_chance_is_never_told_as_certain(probability: float, spoken: str) -> None:
    assert one_in(probability) == spoken
