"""What a gauge study comes to, as it is kept with the study when it is closed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from statistics import fmean
from typing import Any

from qc.errors import BadInput
from qc.models import GaugeStudy, StudyReading
from qc.numerics.gauge_study import (
    POOL_ABOVE_P,
    GaugeComponents,
    GaugeReadings,
    gauge_readings,
    gauge_study,
    largest_difference,
    reml_components,
)
from qc.numerics.gauge_study import GaugeStudy as Answer

FORMULA = "2026.1"


def result_of(study: GaugeStudy) -> dict[str, Any]:
    """Components, intervals and shares as JSON: standard deviations in mm, variances nowhere.

    `refused` says why there are no figures, where these readings leave something unjudged; the
    rest is then left out.
    """
    rows = standing(study)
    told: dict[str, Any] = {"formula": FORMULA, "readings": len(rows), "refused": None}
    try:
        table = gauge_readings(
            [float(one.value_mm) for one in rows],
            part=[one.turn.part for one in rows],
            operator=[hand_of(one) for one in rows],
        )
        answer = gauge_study(table)
        reml = reml_components(table, interaction=answer.recommended == "with interaction")
    except BadInput as error:
        return {**told, "refused": str(error)}
    width = float(study.tolerance_mm)
    parts = answer.components
    return {
        **told,
        **_size(table),
        "interaction": _interaction(answer),
        "components": _sds(parts),
        "reml": _sds(
            GaugeComponents(reml.part, reml.operator, reml.interaction, reml.repeatability)
        ),
        "intervals": {
            "repeatability_mm": _roots(answer.repeatability_interval),
            "reproducibility_mm": _roots(answer.reproducibility_interval),
            "grr_mm": _roots(answer.grr_interval),
            "part_mm": _roots(answer.part_interval),
        },
        "df": {
            "repeatability": answer.df_repeatability,
            "operator": answer.df_operator,
            "interaction": answer.df_interaction,
            "grr": answer.df_grr,
        },
        "same_hand_mm": largest_difference(parts.repeatability),
        "two_hands_mm": largest_difference(parts.grr),
        "two_hands_interval_mm": [largest_difference(one) for one in answer.grr_interval],
        "share_of_tolerance": answer.share_of_tolerance(width),
        "share_interval": list(answer.share_of_tolerance_interval(width)),
        "classes": parts.classes,
        "too_coarse": _never_differ(rows),
        "hands": _leanings(rows),
    }


def standing(study: GaugeStudy) -> list[StudyReading]:
    """The readings that nobody voided, in the order drawn."""
    rows = StudyReading.objects.filter(turn__study=study, voided_at=None)
    return list(rows.select_related("turn__person", "turn__gauge").order_by("turn__order"))


def hand_of(reading: StudyReading) -> str:
    """A person with a gauge, as one key."""
    return f"{reading.turn.person_id}.{reading.turn.gauge_id}"


def _size(table: GaugeReadings) -> dict[str, Any]:
    return {"parts": table.parts, "hand_count": table.operators, "trials": table.trials}


def _interaction(answer: Answer) -> dict[str, Any]:
    return {
        "pooled": answer.recommended == "pooled",
        "p": answer.interaction_p,
        "pooled_above_p": POOL_ABOVE_P,
        "could_be_told": answer.with_interaction is not None,
    }


def _sds(parts: GaugeComponents) -> dict[str, float]:
    return {
        "part_mm": math.sqrt(parts.part),
        "operator_mm": math.sqrt(parts.operator),
        "interaction_mm": math.sqrt(parts.interaction),
        "repeatability_mm": math.sqrt(parts.repeatability),
        "reproducibility_mm": math.sqrt(parts.reproducibility),
        "grr_mm": math.sqrt(parts.grr),
    }


def _never_differ(rows: Sequence[StudyReading]) -> bool:
    """Whether something was read again and every time the same to the last digit."""
    seen: dict[tuple[str, int], list[StudyReading]] = defaultdict(list)
    for one in rows:
        seen[hand_of(one), one.turn.part].append(one)
    again = [cell for cell in seen.values() if len(cell) > 1]
    return bool(again) and all(len({one.value_mm for one in cell}) == 1 for cell in again)


def _roots(interval: Sequence[float]) -> list[float]:
    return [math.sqrt(bound) for bound in interval]


def _leanings(rows: Sequence[StudyReading]) -> list[dict[str, Any]]:
    """By how much each hand reads over (positive) or under the others' mean of the same parts."""
    by_part: dict[int, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for one in rows:
        by_part[one.turn.part][hand_of(one)].append(float(one.value_mm))
    leans: dict[str, list[float]] = defaultdict(list)
    for hands in by_part.values():
        means = {hand: fmean(values) for hand, values in hands.items()}
        middle = fmean(means.values())
        for hand, mean in means.items():
            leans[hand].append(mean - middle)
    named = {hand_of(one): (one.turn.person.name, one.turn.gauge.name) for one in rows}
    return [
        {"person": named[hand][0], "gauge": named[hand][1], "leans_mm": fmean(off)}
        for hand, off in leans.items()
    ]
