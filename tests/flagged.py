"""Flags put down by hand, for tests of who may see them and of what is done about them."""

from __future__ import annotations

from datetime import timedelta

from qc.models import Decision, DriftChannel, Flag, Recommended, Round
from tests.make import NOON


def make_flag(
    round_: Round,
    *,
    kind: str,
    key: int,
    channel: DriftChannel = DriftChannel.TILT,
    size: float = 0.08,
    suspects: list[tuple[str, int, float]] | None = None,
) -> Flag:
    """Raised by one round; the likeliest is `key` of `kind`, the only suspect unless told."""
    told = suspects or [(kind, key, 0.93)]
    flag = Flag.objects.create(
        channel=channel,
        raised_at=NOON + timedelta(hours=3),
        raised_by=round_,
        moved_at=round_,
        moved_from=round_,
        moved_to=round_,
        size=size,
        size_u=0.004,
        wide_toward_deg=140 if channel == DriftChannel.TILT else None,
        ramp_probability=0.1,
        suspects=[
            {"kind": kind, "key": key, "probability": probability}
            for kind, key, probability in told
        ],
        statistic=20,
        limit=12,
        **{f"{kind}_id": key},
    )
    Decision.objects.create(flag=flag, recommended=Recommended.CHECK_FIRST, made_at=flag.raised_at)
    return flag
