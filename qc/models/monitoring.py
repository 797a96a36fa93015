"""What the charts raised: signals, each a chart rule that fired."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from qc.models.columns import one_of
from qc.models.jobs import Round
from qc.models.resources import Lathe


class Channel(models.TextChoices):
    TARGET_ERROR = "target_error", "target error"
    HEIGHT_ERROR = "height_error", "height error"


class Rule(models.TextChoices):
    INDIVIDUALS = "individuals", "one job outside the limits"
    EWMA = "ewma", "the weighted mean outside its limits"
    SUMS = "sums", "the cumulative sum past its limit"
    TWO_OF_THREE = "two_of_three", "two of three jobs far out on one side"
    FOUR_OF_FIVE = "four_of_five", "four of five jobs well out on one side"
    SEVEN_SAME_SIDE = "seven_one_side", "seven jobs running on one side of the centre"
    EIGHT_SAME_SIDE = "eight_one_side", "eight jobs running on one side of the centre"
    NINE_SAME_SIDE = "nine_one_side", "nine jobs running on one side of the centre"
    SIX_TREND = "six_trend", "six jobs running that all rise or all fall"
    SEVEN_TREND = "seven_trend", "seven jobs running that all rise or all fall"
    ALTERNATING = "alternating", "fourteen jobs up and down by turns"
    HUGGING = "hugging", "fifteen jobs running close to the centre"
    SHUNNING = "shunning", "eight jobs running that all miss the centre, on either side"


class Signal(models.Model):
    """A rule that fired at one round on the shop's chart (no lathe) or on a lathe's.

    rounds: the keys of the rounds that made the pattern, oldest first. limit_mm: what value_mm
    passed; None for a rule on how jobs follow each other.
    """

    channel = models.CharField(max_length=14, choices=Channel.choices)
    lathe = models.ForeignKey(
        Lathe, null=True, blank=True, on_delete=models.PROTECT, related_name="signals"
    )
    rule = models.CharField(max_length=16, choices=Rule.choices)
    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="signals")
    at = models.DateTimeField()
    value_mm = models.FloatField()
    limit_mm = models.FloatField(null=True, blank=True)
    rounds: models.JSONField[Any, Any] = models.JSONField(default=list)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["channel", "lathe", "rule", "round"],
                condition=Q(lathe__isnull=False),
                name="lathe_signal_once",
            ),
            models.UniqueConstraint(
                fields=["channel", "rule", "round"],
                condition=Q(lathe__isnull=True),
                name="shop_signal_once",
            ),
            one_of("channel", Channel, "signal_channel_known"),
            one_of("rule", Rule, "signal_rule_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_channel_display()}: {self.get_rule_display()} at {self.round}"

    @property
    def is_wide(self) -> bool:
        """Whether the job stands above what it passed, or above zero where it passed no edge."""
        return self.value_mm > (self.limit_mm or 0.0)
