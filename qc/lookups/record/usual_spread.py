"""What a shop's readings usually scatter by: the policy's figure, or the gauge study in force."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from qc.models import Gauge, Repeats, ShopPolicy, StudyReading, StudyUse
from qc.numerics.uncertainty import Hands

# How many readings the policy's usual repeatability is worth beside a set's own few.
POLICY_DF = 4


@dataclass(frozen=True)
class UsualSpread:
    """Pieces at one position scatter by repeat_sd_mm. source, hands: of a study in force."""

    repeat_sd_mm: float
    repeat_df: float
    source: str = ""
    hands: Hands | None = None


def use_in_force(gauge: Gauge, *, at: datetime) -> StudyUse | None:
    """The study that counted for readings with this gauge at `at`; None where none did."""
    read = StudyReading.objects.filter(turn__gauge=gauge, voided_at=None).values("turn__study")
    uses = StudyUse.objects.filter(study__in=read, at__lte=at).select_related("study")
    newest = uses.order_by("-at", "-pk").first()
    return newest if newest is not None and newest.is_taken else None


def usual_spread(gauge: Gauge, *, policy: ShopPolicy, at: datetime | None) -> UsualSpread:
    """The policy's figure, or what the study in force at `at` replaces and adds.

    at None: the policy's figure alone, as for a gauge that is on no shelf.

    A study of fresh pieces saw crushing and reading together, as the policy's figure means it, and
    replaces it. One that read the same pieces again saw reading alone: pieces still differ by the
    policy's figure, which is then never taken under the study's.
    """
    usual = UsualSpread(float(policy.repeat_sd_mm), POLICY_DF)
    use = None if at is None else use_in_force(gauge, at=at)
    if use is None:
        return usual
    hands = Hands(use.hands_sd_mm, use.hands_df, use.by_piece_sd_mm, use.by_piece_df, use.says)
    if use.study.repeats == Repeats.FRESH or use.repeat_sd_mm > usual.repeat_sd_mm:
        return UsualSpread(use.repeat_sd_mm, use.repeat_df, use.says, hands)
    return UsualSpread(usual.repeat_sd_mm, usual.repeat_df, "", hands)
