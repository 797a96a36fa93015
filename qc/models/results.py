"""What the readings of one round came to, computed once per revision of the readings."""

from __future__ import annotations

import math
from typing import Any

from django.db import models
from django.db.models import Q

from qc.models.columns import mm_column, one_of
from qc.models.jobs import Round
from qc.models.policy import ShopPolicy


class VerdictKind(models.TextChoices):
    ACCEPT = "accept", "accept"
    CUT_AGAIN = "cut_again", "cut again"
    UNDECIDED = "undecided", "undecided"
    REJECT = "reject", "reject"


class JobResult(models.Model):
    """The three channels and the verdict. A void makes a new revision; the old one stays.

    Tilt components are on the engine's clock: positive means the gap is wider on that side.
    Floats, because they are computed; everything they came from is exact in the reading rows.
    """

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="results")
    revision = models.PositiveSmallIntegerField()
    is_current = models.BooleanField(default=True)
    computed_at = models.DateTimeField()
    measured_at = models.DateTimeField()
    formula = models.CharField(max_length=20)
    policy = models.ForeignKey(ShopPolicy, on_delete=models.PROTECT, related_name="+")

    height_mm = models.FloatField()
    tightest_mm = models.FloatField()
    tilt_cos_mm = models.FloatField(null=True, blank=True)
    tilt_sin_mm = models.FloatField(null=True, blank=True)
    tilt_component_mm = models.FloatField(null=True, blank=True)
    tilt_component_axis_deg = models.FloatField(null=True, blank=True)
    as_found_tilt_cos_mm = models.FloatField(null=True, blank=True)
    as_found_tilt_sin_mm = models.FloatField(null=True, blank=True)
    spread_mm = models.FloatField(null=True, blank=True)
    spread_df = models.PositiveSmallIntegerField(default=0)

    predicted_mm = models.FloatField(null=True, blank=True)
    depth_cut_mm = mm_column(null=True, blank=True)
    depth_is_planned = models.BooleanField(default=False)
    target_error_mm = models.FloatField()
    height_error_mm = models.FloatField(null=True, blank=True)
    measuring_radius_mm = mm_column()
    is_reading_only = models.BooleanField(default=False)

    u_height_mm = models.FloatField()
    u_side_to_side_mm = models.FloatField(null=True, blank=True)
    u_tightest_mm = models.FloatField()
    verdict = models.CharField(max_length=10, choices=VerdictKind.choices)
    detail: models.JSONField[Any, Any] = models.JSONField()

    class Meta:
        ordering = ["round", "revision"]
        indexes = [
            # SQLite uses no index on a truth value; it does use one of the rows for which it holds.
            models.Index(
                fields=["measured_at", "id"], condition=Q(is_current=True), name="result_by_time"
            )
        ]
        constraints = [
            models.UniqueConstraint(fields=["round", "revision"], name="result_revision_once"),
            models.UniqueConstraint(
                fields=["round"], condition=Q(is_current=True), name="one_current_result"
            ),
            one_of("verdict", VerdictKind, "result_verdict_known"),
        ]

    def __str__(self) -> str:
        return f"{self.round} revision {self.revision}: {self.verdict}"

    @property
    def asks_for_a_cut(self) -> bool:
        """Whether the verdict is to cut again, or says that another cut would help."""
        helps = self.detail["verdict"]["another_pass_helps"]
        return self.verdict == VerdictKind.CUT_AGAIN or bool(helps)

    @property
    def side_to_side_mm(self) -> float | None:
        """2 x the tilt's amplitude, at the measuring radius; None without a tilt vector."""
        if self.tilt_cos_mm is None or self.tilt_sin_mm is None:
            return None
        return 2 * math.hypot(self.tilt_cos_mm, self.tilt_sin_mm)

    @property
    def wide_toward_deg(self) -> float | None:
        """The engine clock position toward which the gap is widest."""
        if self.tilt_cos_mm is None or self.tilt_sin_mm is None:
            return None
        return math.degrees(math.atan2(self.tilt_sin_mm, self.tilt_cos_mm)) % 360
