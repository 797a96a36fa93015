"""Why two suspects are not told apart: the jobs since the move that used both, or one alone."""

from __future__ import annotations

from dataclasses import dataclass

from qc.lookups.flags.lines import FlagLine
from qc.lookups.watch.own_jobs import own_rounds


@dataclass(frozen=True)
class UsedTogether:
    """Of the two leading suspects, counted from the likeliest first job after the move. clockings:
    how many ways the jobs with both were clocked, where one is a fixture and the other hands; a
    fixture's lean turns with the clocking, that of hands does not. None for any other two."""

    both: int
    first_alone: int
    second_alone: int
    clockings: int | None


def used_together(line: FlagLine) -> UsedTogether | None:
    """None where one is named, or where the counts would tell this reader who somebody is."""
    pair = line.suspects[:2]
    if line.named is not None or len(pair) < 2 or any(one.key is None for one in pair):
        return None
    first, second = (
        dict(
            own_rounds(one.kind, one.key or 0)
            .filter(measured_at__gte=line.since.at)
            .values_list("round_id", "round__clocking_deg")
        )
        for one in pair
    )
    both = first.keys() & second.keys()
    is_turned = {one.kind for one in pair} == {"fixture", "person"}
    return UsedTogether(
        both=len(both),
        first_alone=len(first) - len(both),
        second_alone=len(second) - len(both),
        clockings=len({first[one] for one in both} - {None}) if is_turned else None,
    )
