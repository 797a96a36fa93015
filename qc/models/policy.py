"""The shop's own choices, as rows with history: the newest is in force, none is ever changed."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from qc.models.columns import mm_column, one_of, unit_column
from qc.models.people import Person
from qc.units import Unit


class ChartsBy(models.TextChoices):
    """Which two lines of a chart decide its signals."""

    AVERAGE = "average", "single jobs and their running average"
    SUMS = "sums", "cumulative sums, one for wide and one for tight"


class RuleSet(models.TextChoices):
    """Which patterns among jobs signal beside the lines that decide."""

    LIMITS = "limits", "none beside those lines"
    WESTERN_ELECTRIC = "western_electric", "Western Electric zone rules"
    NELSON = "nelson", "Nelson's eight rules"
    ISO_7870_2 = "iso_7870_2", "the patterns of ISO 7870-2"


class ShopPolicy(models.Model):
    shop_name = models.CharField(max_length=80, default="The shop")
    time_zone = models.CharField(max_length=60, default="UTC")
    unit = unit_column(default=Unit.MM.value)
    since = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    why = models.TextField(blank=True)
    # Of two changes made from one row the database refuses the second.
    follows = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="followed_by"
    )

    evenness_limit_mm = mm_column(default="0.060")
    guard_factor = models.DecimalField(max_digits=5, decimal_places=3, default="1.645")
    overdue_gauge_is_refused = models.BooleanField(default=True)
    indicating_is_required = models.BooleanField(default=True)
    indicating_limit_mm = mm_column(default="0.0127")

    dial_step_mm = mm_column(default="0.002")
    carry_through = models.DecimalField(max_digits=4, decimal_places=3, null=True, blank=True)
    carry_through_u = models.DecimalField(max_digits=4, decimal_places=3, default="0.100")

    surface_speed_m_min = models.DecimalField(max_digits=6, decimal_places=1, default=120)
    spindle_most_rpm = models.PositiveIntegerField(default=600)
    finish_feed_mm = mm_column(default="0.10")
    rough_max_mm = mm_column(default="0.25")
    finish_mm = mm_column(default="0.05")
    chip_ratio = models.DecimalField(max_digits=4, decimal_places=2, default="0.30")
    smallest_chip_mm = mm_column(default="0.010")

    repeat_sd_mm = mm_column(default="0.010")
    gasket_u_mm = mm_column(default="0.005")
    torque_u_mm = mm_column(default="0.003")
    float_u_mm = mm_column(default="0.003")

    correction_dead_band_mm = mm_column(default="0.010")
    correction_most_mm = mm_column(default="0.050")
    correction_step_mm = mm_column(default="0.005")
    correction_fewest_jobs = models.PositiveSmallIntegerField(default=8)

    false_flags_per_season = models.DecimalField(max_digits=5, decimal_places=2, default="1")
    season_months = models.PositiveSmallIntegerField(default=12)
    season_jobs = models.PositiveIntegerField(default=300)
    reindicating_minutes = models.PositiveSmallIntegerField(
        default=25, validators=[MinValueValidator(1)]
    )
    # A fresh edge fitted and touched off; a gauge checked on a standard; a lathe's dial, stop and
    # play gone over: common practice, no source.
    edge_minutes = models.PositiveSmallIntegerField(default=15, validators=[MinValueValidator(1)])
    gauge_minutes = models.PositiveSmallIntegerField(default=10, validators=[MinValueValidator(1)])
    lathe_minutes = models.PositiveSmallIntegerField(default=30, validators=[MinValueValidator(1)])
    miss_in_reindications = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        default="3.0",
        validators=[MinValueValidator(Decimal("0.1"))],
    )
    charts_by = models.CharField(
        max_length=8, choices=ChartsBy.choices, default=ChartsBy.AVERAGE.value
    )
    ewma_weight = models.DecimalField(
        max_digits=3,
        decimal_places=2,
        default="0.20",
        validators=[MinValueValidator(Decimal("0.01")), MaxValueValidator(1)],
    )
    cusum_k = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default="0.500",
        validators=[MinValueValidator(0), MaxValueValidator(3)],
    )
    cusum_has_head_start = models.BooleanField(default=True)
    rule_set = models.CharField(max_length=16, choices=RuleSet.choices, default=RuleSet.LIMITS)

    velocity_limit_m_s = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    velocity_limit_says = models.CharField(max_length=120, blank=True)
    running_gap_limit_mm = mm_column(null=True, blank=True)
    running_gap_limit_says = models.CharField(max_length=120, blank=True)
    exhaust_later_limit_deg = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True
    )
    exhaust_later_limit_says = models.CharField(max_length=120, blank=True)
    trapped_ratio_limit = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    trapped_ratio_limit_says = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "shop policies"
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    evenness_limit_mm__gt=0, guard_factor__gt=0, rough_max_mm__gt=0, finish_mm__gt=0
                ),
                name="policy_limits_positive",
            ),
            models.CheckConstraint(
                condition=Q(false_flags_per_season__gt=0, season_months__gt=0, season_jobs__gt=0),
                name="policy_season_positive",
            ),
            one_of("charts_by", ChartsBy, "policy_charts_by_known"),
            models.CheckConstraint(
                condition=Q(ewma_weight__gt=0, ewma_weight__lte=1, cusum_k__gte=0, cusum_k__lte=3),
                name="policy_charts_possible",
            ),
            one_of("rule_set", RuleSet, "policy_rule_set_known"),
        ]

    def __str__(self) -> str:
        return f"{self.shop_name} since {self.since:%Y-%m-%d}"
