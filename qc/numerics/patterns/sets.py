"""The rules in common use and the sets that standards and handbooks make of them."""

from __future__ import annotations

from collections.abc import Mapping

from qc.numerics.patterns.rules import AlternatingRule, Rule, TrendRule, ZoneRule

BEYOND_3 = ZoneRule("one point beyond 3 sigma", 1, 1, low=3.0)
TWO_OF_THREE = ZoneRule("2 of 3 beyond 2 sigma, same side", 2, 3, low=2.0)
FOUR_OF_FIVE = ZoneRule("4 of 5 beyond 1 sigma, same side", 4, 5, low=1.0)
SEVEN_SAME_SIDE = ZoneRule("7 in a row on one side", 7, 7, low=0.0)
EIGHT_SAME_SIDE = ZoneRule("8 in a row on one side", 8, 8, low=0.0)
NINE_SAME_SIDE = ZoneRule("9 in a row on one side", 9, 9, low=0.0)
FIFTEEN_WITHIN_1 = ZoneRule("15 in a row within 1 sigma", 15, 15, high=1.0, one_side=False)
EIGHT_BEYOND_1 = ZoneRule("8 in a row beyond 1 sigma, either side", 8, 8, low=1.0, one_side=False)
SIX_RISING_OR_FALLING = TrendRule("6 points rising or falling", 6)
SEVEN_RISING_OR_FALLING = TrendRule("7 points rising or falling", 7)
FOURTEEN_ALTERNATING = AlternatingRule("14 points up and down by turns", 14)

LIMITS_ONLY = (BEYOND_3,)
WESTERN_ELECTRIC = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_SAME_SIDE)
"""Zone rules of the Western Electric handbook (1956)."""
NELSON = (
    BEYOND_3,
    NINE_SAME_SIDE,
    SIX_RISING_OR_FALLING,
    FOURTEEN_ALTERNATING,
    TWO_OF_THREE,
    FOUR_OF_FIVE,
    FIFTEEN_WITHIN_1,
    EIGHT_BEYOND_1,
)
"""Nelson, Journal of Quality Technology 16 (1984), in his order."""
ISO_7870_2 = (BEYOND_3, SEVEN_SAME_SIDE, SEVEN_RISING_OR_FALLING)
"""The countable patterns of ISO 7870-2:2013; the list is from memory."""

RULE_SETS: Mapping[str, tuple[Rule, ...]] = {
    "limits only": LIMITS_ONLY,
    "Western Electric": WESTERN_ELECTRIC,
    "Nelson": NELSON,
    "ISO 7870-2": ISO_7870_2,
}
