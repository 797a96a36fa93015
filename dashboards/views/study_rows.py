"""A closed gauge study as rows of its drawing."""

from __future__ import annotations

from collections import defaultdict
from statistics import fmean

from dashboards.figures.rows import StudyDot, StudyDots
from qc.lookups.gauges.gauge_studies import StudyRecord

# 95 of 100 normal values lie within so many standard deviations of their mean.
OF_100_95 = 1.96


def dots_of(record: StudyRecord) -> StudyDots:
    """Every standing reading about the mean of its piece; a hand is named with its gauge where
    the study has several."""
    standing = [one for one in record.readings if one.voided_at is None]
    by_piece: dict[int, list[float]] = defaultdict(list)
    for one in standing:
        by_piece[one.turn.part].append(float(one.value_mm))
    middle = {piece: fmean(values) for piece, values in by_piece.items()}
    keys = [(one.turn.person.name, one.turn.gauge.name) for one in standing]
    hands = sorted(set(keys))
    several = len(record.gauges) > 1
    dots = tuple(
        StudyDot(
            piece=one.turn.part,
            hand=hands.index(key),
            trial=one.turn.trial,
            value_mm=float(one.value_mm),
            off_mm=float(one.value_mm) - middle[one.turn.part],
        )
        for one, key in zip(standing, keys, strict=True)
    )
    result = record.result
    return StudyDots(
        hands=tuple(f"{person}, {gauge}" if several else person for person, gauge in hands),
        leans_mm=tuple(
            fmean(dot.off_mm for dot in dots if dot.hand == number) for number in range(len(hands))
        ),
        dots=dots,
        holds_mm=None if result is None else OF_100_95 * result["components"]["grr_mm"],
    )
