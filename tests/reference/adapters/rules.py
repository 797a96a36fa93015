from qc.numerics import patterns
from qc.numerics.patterns import ZoneRule, find_patterns
from qc.numerics.run_length import rule_arl
from tests.reference.adapters.counting import from_one

BY_KEY = {
    "1": patterns.BEYOND_3,
    "2": patterns.TWO_OF_THREE,
    "3": patterns.FOUR_OF_FIVE,
    "4": patterns.EIGHT_SAME_SIDE,
    "9": patterns.NINE_SAME_SIDE,
    "7r": patterns.SEVEN_SAME_SIDE,
    "15in": patterns.FIFTEEN_WITHIN_1,
    "8out": patterns.EIGHT_BEYOND_1,
    "22": ZoneRule("2 in a row beyond 2 sigma, same side", 2, 2, low=2.0),
}
BY_SEQUENCE = {
    "t1_beyond3": patterns.BEYOND_3,
    "t2_nine_same_side": patterns.NINE_SAME_SIDE,
    "t2b_eight_same_side": patterns.EIGHT_SAME_SIDE,
    "t3_six_monotone": patterns.SIX_RISING_OR_FALLING,
    "t4_fourteen_alternating": patterns.FOURTEEN_ALTERNATING,
    "t5_two_of_three_beyond2": patterns.TWO_OF_THREE,
    "t6_four_of_five_beyond1": patterns.FOUR_OF_FIVE,
    "t7_fifteen_within1": patterns.FIFTEEN_WITHIN_1,
    "t8_eight_beyond1_both": patterns.EIGHT_BEYOND_1,
    "run7_same_side": patterns.SEVEN_SAME_SIDE,
    "mono7_seven_monotone": patterns.SEVEN_RISING_OR_FALLING,
}
BY_PATTERN = {
    "beyond_3s": patterns.BEYOND_3,
    "nine_same_side": patterns.NINE_SAME_SIDE,
    "eight_same_side": patterns.EIGHT_SAME_SIDE,
    "seven_same_side": patterns.SEVEN_SAME_SIDE,
    "six_monotone": patterns.SIX_RISING_OR_FALLING,
    "seven_monotone": patterns.SEVEN_RISING_OR_FALLING,
    "fourteen_alternating": patterns.FOURTEEN_ALTERNATING,
    "fifteen_within_1s": patterns.FIFTEEN_WITHIN_1,
    "eight_beyond_1s": patterns.EIGHT_BEYOND_1,
    "two_of_three_beyond_2s": patterns.TWO_OF_THREE,
    "four_of_five_beyond_1s": patterns.FOUR_OF_FIVE,
}


def answer(case):
    asked = case.inputs
    if "rules" in asked:
        rules = tuple(BY_KEY[key] for key in asked["rules"])
        return {"arl": [rule_arl(rules, shift=shift) for shift in asked["shift_sigma"]]}
    if "z" in asked:
        found = find_patterns(asked["z"], rules=tuple(BY_SEQUENCE.values()))
        return {name: from_one(found.fired[:, i]) for i, name in enumerate(BY_SEQUENCE)}
    return {name: rule.chance() for name, rule in BY_PATTERN.items()}
