"""Engine families (geometry and what the shop aims for) and the cylinders that come in."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from qc.models.columns import at_least_zero, degrees_column, mm_column, on_the_clock


class EngineFamily(models.Model):
    """Geometry in mm, cc and degrees. Port heights are piston travel down from top dead centre."""

    name = models.CharField(max_length=60, unique=True)
    note = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    bore_mm = mm_column()
    stroke_mm = mm_column()
    rod_mm = mm_column()
    exhaust_mm = mm_column(null=True, blank=True)
    transfer_mm = mm_column(null=True, blank=True)
    intake_mm = mm_column(null=True, blank=True)
    clearance_cc = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    band_width_mm = mm_column(null=True, blank=True)

    expected_gap_mm = mm_column(null=True, blank=True)
    gasket_mm = mm_column(default=0)
    target_mm = mm_column()
    tol_minus_mm = mm_column()
    tol_plus_mm = mm_column()
    floor_mm = mm_column()
    maker_floor_mm = mm_column(null=True, blank=True)
    measuring_radius_mm = mm_column()

    flange_mm = mm_column(null=True, blank=True)
    flange_min_mm = mm_column(null=True, blank=True)
    flange_diameter_mm = mm_column(null=True, blank=True)

    rpm_loaded = models.PositiveIntegerField(null=True, blank=True)
    rpm_free = models.PositiveIntegerField(null=True, blank=True)
    reciprocating_kg = models.DecimalField(max_digits=8, decimal_places=4, null=True, blank=True)
    rod_shank_mm2 = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    bearing_radial_mm = mm_column(null=True, blank=True)
    skirt_clearance_mm = mm_column(null=True, blank=True)
    skirt_length_mm = mm_column(null=True, blank=True)
    spark_btdc_deg = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    carbon_mm = mm_column(null=True, blank=True)
    exhaust_floor_mm = mm_column(null=True, blank=True)
    skirt_below_crown_mm = mm_column(null=True, blank=True)
    ring_end_deg = degrees_column(null=True, blank=True)
    ring_below_crown_mm = mm_column(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "engine families"
        constraints = [
            models.CheckConstraint(
                condition=Q(bore_mm__gt=0, stroke_mm__gt=0, rod_mm__gt=0),
                name="family_bore_stroke_rod_positive",
            ),
            models.CheckConstraint(
                condition=Q(stroke_mm__lt=2 * F("rod_mm")), name="family_rod_long_enough"
            ),
            models.CheckConstraint(
                condition=Q(target_mm__gt=0, tol_minus_mm__gt=0, tol_plus_mm__gt=0, floor_mm__gt=0),
                name="family_target_tolerance_floor_positive",
            ),
            models.CheckConstraint(
                condition=Q(target_mm__gte=F("floor_mm")), name="family_target_not_under_floor"
            ),
            models.CheckConstraint(
                condition=Q(measuring_radius_mm__gt=0), name="family_measuring_radius_positive"
            ),
            at_least_zero("gasket_mm", "family_gasket_not_negative"),
            on_the_clock("ring_end_deg", "family_ring_end_on_the_clock"),
        ]

    def __str__(self) -> str:
        return str(self.name)


class PortWindow(models.Model):
    """A window in the bore wall: where it lies on the engine's clock and how far down it reaches.

    Heights are piston travel from the crown's edge at top dead centre to the window's edges.
    """

    family = models.ForeignKey(EngineFamily, on_delete=models.CASCADE, related_name="windows")
    name = models.CharField(max_length=60)
    centre_deg = degrees_column()
    half_width_deg = degrees_column()
    upper_mm = mm_column()
    lower_mm = mm_column()

    class Meta:
        ordering = ["family", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["family", "name"], name="window_name_once"),
            models.CheckConstraint(
                condition=Q(upper_mm__gte=0, lower_mm__gt=F("upper_mm")),
                name="window_lower_under_upper",
            ),
            on_the_clock("centre_deg", "window_centre_on_the_clock"),
        ]

    def __str__(self) -> str:
        return f"{self.family} {self.name}"


class Cylinder(models.Model):
    """One casting, known by its serial. `earlier_cut_mm` was taken off before this record began."""

    family = models.ForeignKey(EngineFamily, on_delete=models.PROTECT, related_name="cylinders")
    serial = models.CharField(max_length=60)
    customer_reference = models.CharField(max_length=80, blank=True)
    earlier_cut_mm = mm_column(default=0)
    registered_at = models.DateTimeField()

    class Meta:
        ordering = ["serial"]
        constraints = [
            models.UniqueConstraint(fields=["family", "serial"], name="cylinder_serial_once"),
            at_least_zero("earlier_cut_mm", "cylinder_earlier_cut_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.family} {self.serial}"
