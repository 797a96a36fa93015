"""Patterns among points that limits alone do not see, as rules that are data.

A rule reads z = (x - centre) / sigma in cutting order and fires at the point that completes its
pattern. "Beyond" and "within" are strict. A point exactly on the centre line is on neither side;
equal neighbours neither rise, fall nor alternate. A k-of-m rule needs the newest point in the zone
and may fire before m points exist. Windows overlap, so a run that goes on keeps firing.
"""

from qc.numerics.patterns.rules import (
    AlternatingRule,
    Rule,
    TrendRule,
    ZoneRule,
)
from qc.numerics.patterns.search import (
    Patterns,
    find_patterns,
    made_by,
    newest_fired,
    points_needed,
    standardised,
)
from qc.numerics.patterns.sets import (
    BEYOND_3,
    EIGHT_BEYOND_1,
    EIGHT_SAME_SIDE,
    FIFTEEN_WITHIN_1,
    FOUR_OF_FIVE,
    FOURTEEN_ALTERNATING,
    ISO_7870_2,
    LIMITS_ONLY,
    NELSON,
    NINE_SAME_SIDE,
    RULE_SETS,
    SEVEN_RISING_OR_FALLING,
    SEVEN_SAME_SIDE,
    SIX_RISING_OR_FALLING,
    TWO_OF_THREE,
    WESTERN_ELECTRIC,
)

__all__ = [
    "BEYOND_3",
    "EIGHT_BEYOND_1",
    "EIGHT_SAME_SIDE",
    "FIFTEEN_WITHIN_1",
    "FOURTEEN_ALTERNATING",
    "FOUR_OF_FIVE",
    "ISO_7870_2",
    "LIMITS_ONLY",
    "NELSON",
    "NINE_SAME_SIDE",
    "RULE_SETS",
    "SEVEN_RISING_OR_FALLING",
    "SEVEN_SAME_SIDE",
    "SIX_RISING_OR_FALLING",
    "TWO_OF_THREE",
    "WESTERN_ELECTRIC",
    "AlternatingRule",
    "Patterns",
    "Rule",
    "TrendRule",
    "ZoneRule",
    "find_patterns",
    "made_by",
    "newest_fired",
    "points_needed",
    "standardised",
]
