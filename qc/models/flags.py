"""Flags: a resource, or a person's technique, believed to have moved, and what came of it."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from qc.models.columns import one_of
from qc.models.jobs import Round
from qc.models.people import Person
from qc.models.resources import Fixture, Gauge, Lathe, Resource, ServiceEvent, ToolEdge


class DriftChannel(models.TextChoices):
    TILT = "tilt", "tilt"
    HEIGHT = "height", "height error"
    SPREAD = "spread", "spread"


class FlagState(models.TextChoices):
    RAISED = "raised", "raised"
    LOOKED_INTO = "looked_into", "being looked into"
    CAUSE_FOUND = "cause_found", "cause found"
    NONE_FOUND = "none_found", "no cause found"
    CLEARED = "cleared", "cleared by service"
    WITHDRAWN = "withdrawn", "withdrawn"


OPEN_FLAG = (FlagState.RAISED, FlagState.LOOKED_INTO)
# What a flag can be about, by the column that holds it.
ABOUT = ("fixture", "lathe", "edge", "gauge", "person")


def _about_one() -> Q:
    """Exactly one of ABOUT."""
    one = Q()
    for chosen in ABOUT:
        one |= Q(**{f"{name}__isnull": name != chosen for name in ABOUT})
    return one


def _key(to: type[models.Model]) -> Any:
    return models.ForeignKey(
        to, null=True, blank=True, on_delete=models.PROTECT, related_name="flags"
    )


class Flag(models.Model):
    """The likeliest resource (one of ABOUT) to have moved on one channel, as believed now.

    size: tilt, mm side to side at a 20 mm radius; height error, mm, positive when gaps come out
    wider; spread, change of the log variance. wide_toward_deg: tilt only, on the fixture's own
    clock, for hands on the engine's. moved_at: the likeliest first round after the move, which lies
    between moved_from and moved_to with 90 % probability. suspects: {"kind", "key", "probability",
    "by_jobs"}
    of each that may have moved instead, likeliest first; probability None: not worked out.
    statistic, limit: log evidence of the likeliest when it was raised, and what it passed.
    cause_kind, cause_id: which of the suspects a cause that was found lay in, where that was said.

    An open flag follows the watch. Once closed, state, closed_at, service, cause_kind, cause_id and
    suspects stay as they are: they are what the watch was told, and it is stepped from them again.
    What was found later is a Finding, and what was in order is a FlagCheck. service: by which the
    flag was closed, whichever suspect that was of; by a cause found there where it is the cause.
    """

    channel = models.CharField(max_length=8, choices=DriftChannel.choices)
    fixture = _key(Fixture)
    lathe = _key(Lathe)
    edge = _key(ToolEdge)
    gauge = _key(Gauge)
    person = _key(Person)
    state = models.CharField(max_length=12, choices=FlagState.choices, default=FlagState.RAISED)
    raised_at = models.DateTimeField()
    raised_by = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="+")
    moved_at = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="+")
    moved_from = models.ForeignKey(
        Round, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    moved_to = models.ForeignKey(
        Round, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    size = models.FloatField()
    size_u = models.FloatField(null=True, blank=True)
    wide_toward_deg = models.FloatField(null=True, blank=True)
    ramp_probability = models.FloatField(null=True, blank=True)
    suspects: models.JSONField[Any, Any] = models.JSONField(default=list)
    statistic = models.FloatField()
    limit = models.FloatField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    service = models.ForeignKey(
        ServiceEvent, null=True, blank=True, on_delete=models.PROTECT, related_name="flags"
    )
    note = models.TextField(blank=True)
    cause_kind = models.CharField(max_length=8, blank=True)
    cause_id = models.PositiveBigIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["-raised_at", "-pk"]
        constraints = [
            one_of("channel", DriftChannel, "flag_channel_known"),
            one_of("state", FlagState, "flag_state_known"),
            models.CheckConstraint(condition=_about_one(), name="flag_about_one"),
            models.CheckConstraint(
                condition=Q(cause_kind="", cause_id=None)
                | Q(
                    cause_kind__in=ABOUT,
                    cause_id__isnull=False,
                    state=FlagState.CAUSE_FOUND,
                ),
                name="flag_cause_only_where_found",
            ),
            *(
                models.UniqueConstraint(
                    fields=["channel", name],
                    condition=Q(state__in=OPEN_FLAG),
                    name=f"one_open_flag_of_{name}",
                )
                for name in ABOUT
            ),
        ]

    def __str__(self) -> str:
        return f"{self.about} flagged {self.raised_at:%Y-%m-%d}"

    @property
    def about_kind(self) -> str:
        """Which of ABOUT."""
        return next(name for name in ABOUT if getattr(self, f"{name}_id") is not None)

    @property
    def about_id(self) -> int:
        found: int = getattr(self, f"{self.about_kind}_id")
        return found

    @property
    def about(self) -> Resource | Person:
        found: Resource | Person = getattr(self, self.about_kind)
        return found

    @property
    def is_open(self) -> bool:
        return self.state in OPEN_FLAG
