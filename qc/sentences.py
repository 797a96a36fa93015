"""Sentences with lengths in them: kept as a code and its numbers, worded where they are read.

A fact whose name ends in _mm is a length in millimetres. It is written in mm unless the reader has
a unit of their own; a length that somebody typed keeps its digits and its own unit, and every other
fact is written as the sentence says. Imports nothing of ours.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, TypeGuard

Spell = Callable[[float], str]


def in_mm(length_mm: float) -> str:
    return f"{length_mm:.3f} mm"


def worded(sentence: str, facts: Mapping[str, Any], *, length: Spell = in_mm) -> str:
    """The sentence with its facts filled in, each length as `length` spells it."""
    return sentence.format(
        **{
            name: length(float(fact)) if name.endswith("_mm") and _is_number(fact) else fact
            for name, fact in facts.items()
        }
    )


def _is_number(fact: object) -> TypeGuard[Decimal | float]:
    return isinstance(fact, Decimal | float | int)


def in_words(said: Mapping[str, Any], *, length: Spell = in_mm) -> str:
    """What {"code": ..., "facts": ...} says, as a sentence."""
    return worded(SENTENCES[said["code"]], said["facts"], length=length)


_HEIGHT = "The height of {height_mm}"
_TIGHT = "The tightest gap of {tightest_mm}"
_EVEN = "The side-to-side difference of {difference_mm}{toward}"
_NOT_SHOWN = "Evenness is not shown by these positions."
_FOUR = "Readings at 0, 90, 180 and 270 degrees would show it, and toward where."

OF_A_VERDICT = {
    "height_one_position": f"{_HEIGHT} rests on one position, which cannot show the height.",
    "height_inside": f"{_HEIGHT} is inside {{low_mm}} to {{high_mm}}, guard bands kept.",
    "height_below": f"{_HEIGHT} is below {{low_mm}} by more than its guard band of {{guard_mm}}.",
    "height_above": f"{_HEIGHT} is above {{high_mm}} by more than its guard band of {{guard_mm}}.",
    "height_no_room": f"{_HEIGHT} cannot be shown to be inside {{low_mm}} to {{high_mm}}: the "
    "guard bands of {guard_mm} leave no room. More pieces or a finer gauge would.",
    "height_near": f"{_HEIGHT} is within {{guard_mm}} of its limit of {{near_mm}}.",
    "tightest_inside": f"{_TIGHT} is over the floor of {{floor_mm}}, guard band kept.",
    "tightest_near": f"{_TIGHT} is within {{guard_mm}} of the floor of {{floor_mm}}.",
    "tightest_under": f"{_TIGHT} is more than {{guard_mm}} under the floor of {{floor_mm}}.",
    "evenness_inside": f"{_EVEN} is under {{limit_mm}}, guard band kept.",
    "evenness_near": f"{_EVEN} is within {{guard_mm}} of its limit of {{limit_mm}}.",
    "evenness_over": f"{_EVEN} is over {{limit_mm}} by more than {{guard_mm}}.",
    "evenness_not_shown": f"{_NOT_SHOWN} {_FOUR}",
    "evenness_one_axis": f"{_NOT_SHOWN} Along {{axis_deg:g}} degrees alone it is {{along_mm}}; "
    f"across that it was not measured. {_FOUR}",
    "leave_it": "All is inside its limits: leave it.",
    "measure_first": "Measure at four positions before taking more off.",
    "too_narrow": "Cutting only narrows the gap, and it is too narrow already.",
    "levelling_lacks_flange": "Levelling needs {difference_mm} off the wide side, and the flange "
    "leaves {flange_mm}.",
    "levelling_too_low": "Levelling would leave the height near {height_mm}, below its lower "
    "limit.",
    "levelling_under_floor": "Levelling leaves the tight side as it is, at {tightest_mm}, under "
    "the floor of {floor_mm}.",
    "levelling": "With the fixture indicated again, a levelling cut of {difference_mm} at the wide "
    "side and none at the tight side would leave the height near {height_mm}.",
    "cut_brings": "A cut of {depth_mm} would bring the height to {height_mm}{so_far}.{then}",
    "edge_would_rub": "Only {depth_mm} is left to {limit}, under the smallest chip of {chip_mm}: "
    "the edge would rub instead of cutting.{then}",
    "nothing_more_off": "The height asks for no more off; what is left is for measuring, or for a "
    "lead, to settle.",
}
OF_A_PLAN = {
    "at_target": "The gap is at or under target already, and cutting only narrows it.",
    "at_target_low": "The gap is at or under target already, and cutting only narrows it. The "
    "tightest point is {under_mm} under the floor.",
    "floor_stops": "The floor stops the cut at {depth_mm}: deeper would bring the tightest point "
    "under it. The height will stay {short_mm} over target.",
    "flange_stops": "The flange allows only {depth_mm} more before its minimum. The height will "
    "stay {short_mm} over target.",
    "nothing_to_cut": "Nothing to cut.",
    "pass_too_thin": "A pass of {depth_mm} is under the smallest chip of {chip_mm}: the edge would "
    "rub instead of cutting.",
}
OF_A_CUT = {
    "running_gap_small": "At {rpm:.0f} rpm the tightest gap would be {left_mm}, under {limit_mm}.",
    "flange_under_minimum": "The flange would be {flange_mm}, under its minimum of {limit_mm}.",
    "exhaust_later": "The exhaust would open {later_deg:.1f} degrees later, more than "
    "{limit_deg:.1f}.",
    "squish_velocity_high": "Squish velocity would reach {velocity:.1f} m/s at {rpm:.0f} rpm, "
    "above {limit:.1f} m/s.",
    "trapped_ratio_high": "The trapped compression ratio would be {ratio:.2f}, above {limit:.2f}.",
    "transfer_before_exhaust": "The transfer ports would open no later than the exhaust. Check "
    "both heights.",
    "ring_end_past_port": "The ring end would run past the {windows}.",
    "skirt_uncovers_exhaust": "At top dead centre the skirt would leave the exhaust port open "
    "underneath by {open_mm}.",
    "compression_rises": "Trapped compression would rise by {rise:.1f} %.{denser} {advice}",
}
_OWN = "of {whose} own jobs"
OF_A_BASELINE = {
    "known": f"Well known: a move of {{move_mm}}{{how}} would be found within about {{finds_in}} "
    f"{_OWN}.",
    "thin": f"Baseline still thin: {{more_jobs}} more {_OWN} until a move of {{move_mm}}{{how}} "
    "would be found within about {within} jobs{at_best}.",
    "blind": "A move of {move_mm}{how} would not show in jobs recorded like the last ones: {why}.",
    "waits": "An open flag holds {what} among what may have moved: how well it is known is told "
    "again once that is settled.",
    "scatter_known": "Well known: repeats that scatter {ratio:g} times as widely would be found "
    f"within about {{finds_in}} {_OWN}.",
    "scatter_thin": f"Baseline still thin: {{more_jobs}} more {_OWN} until repeats that scatter "
    "{ratio:g} times as widely would be found within about {within} jobs{at_best}.",
    "scatter_blind": "Repeats that scatter {ratio:g} times as widely would not show in jobs "
    "recorded like the last ones: {why}.",
}
OF_A_BIAS = {
    "reads_off": "it reads about {off_mm} {side}, give or take {u_mm}.",
    "reads_true": "it reads true as far as its jobs tell, give or take {u_mm}.",
    "gaps_off": "gaps come out about {off_mm} {side} than planned with it, give or take {u_mm}.",
    "gaps_true": "gaps come out as planned with it as far as its jobs tell, give or take {u_mm}.",
    "tilts": "its jobs come out {off_mm} side to side, wide toward {toward_deg:.0f} degrees on its "
    "own clock, give or take {u_mm}.",
    "tilts_nowhere": "its jobs come out even as far as they tell, give or take {u_mm}.",
    "leans": "{whose} tilt readings lean about {off_mm} toward {toward_deg:.0f} degrees on the "
    "engine's clock whatever the fixture, give or take {u_mm}.",
    "leans_nowhere": "{whose} tilt readings lean no way that the jobs can tell, give or take "
    "{u_mm}.",
    "heights_off": "{whose} heights come out about {off_mm} {side} than planned whatever the lathe "
    "and edge, give or take {u_mm}.",
    "heights_true": "{whose} heights come out as planned as far as the jobs tell, give or take "
    "{u_mm}.",
    "crushed_apart": "{pieces} differ {more} than usual at one position (spread {ratio:.1f} times "
    "the shop's).",
    "crushed_alike": "{pieces} differ as much as is usual in the shop at one position.",
}
_NOT_DONE = "{what} on {missing:.0f} % of the last {jobs} jobs."
_SOONER = f"{_NOT_DONE} Done on all, a fixture's move of {{move_mm}} would be found"
OF_RECORDING = {
    "sooner": f"{_SOONER} after about {{jobs_with}} of its jobs instead of {{jobs_now}}, about "
    "{days} sooner.",
    "sooner_by_share": f"{_SOONER} in {{fewer:.0f}} % fewer of its jobs.",
    "found_at_all": f"{_NOT_DONE} Without it a fixture's move of {{move_mm}} is not found.",
}
SENTENCES = {
    **OF_A_VERDICT,
    **OF_A_PLAN,
    **OF_A_CUT,
    **OF_A_BASELINE,
    **OF_A_BIAS,
    **OF_RECORDING,
}
