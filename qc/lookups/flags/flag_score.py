"""How often a flag was right: what came of those that are closed."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count
from django.db.models.functions import Coalesce

from qc.actor import Actor
from qc.lookups.flags.visible import visible_to
from qc.models import Flag, FlagState


@dataclass(frozen=True)
class FlagScore:
    """How flags ended: with a cause found, with none, or cleared by a service without saying.

    located: of those with a cause found, on how many it was said in which suspect it lay.
    in_likeliest: on how many of these that was the likeliest."""

    cause_found: int
    none_found: int
    cleared: int
    located: int
    in_likeliest: int

    @property
    def looked_into(self) -> int:
        return self.cause_found + self.none_found


def flag_score(by: Actor) -> FlagScore:
    """Over every closed flag this reader may know of; of one that a service cleared, what was said
    of it afterwards."""
    known = Flag.objects.filter(visible_to(by)).order_by()
    ended = known.annotate(
        told=Coalesce("finding__state", "state"),
        in_kind=Coalesce("finding__cause_kind", "cause_kind"),
        in_key=Coalesce("finding__cause_id", "cause_id"),
    )
    counts = dict(ended.values_list("told").annotate(count=Count("pk")))
    located = ended.filter(in_key__isnull=False).values_list("in_kind", "in_key", "suspects")
    likeliest = [(kind, key) == (of[0]["kind"], of[0]["key"]) for kind, key, of in located]
    return FlagScore(
        counts.get(FlagState.CAUSE_FOUND, 0),
        counts.get(FlagState.NONE_FOUND, 0),
        counts.get(FlagState.CLEARED, 0),
        len(likeliest),
        sum(likeliest),
    )
