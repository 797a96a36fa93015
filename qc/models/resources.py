"""What a job is cut and measured with: fixtures, lathes, tool edges, gauges, and their service."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from qc.models.columns import (
    at_least_zero,
    entered_value_column,
    mm_column,
    one_of,
    unit_column,
)
from qc.models.people import Person


class Resource(models.Model):
    """A named thing that can be retired but never deleted: old jobs point at it."""

    name = models.CharField(max_length=60, unique=True)
    note = models.TextField(blank=True)
    registered_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        abstract = True
        ordering = ["name"]

    def __str__(self) -> str:
        return str(self.name)

    @property
    def is_retired(self) -> bool:
        return self.retired_at is not None


class Fixture(Resource):
    """Holds the cylinder on the lathe. Its index mark is 0 on the fixture's clock.

    planes_apart_mm: along the axis between the two circles it is indicated on, the first one near
    the chuck. to_face_mm: from the second circle on to the cylinder's base. jaws: that hold it.
    """

    planes_apart_mm = mm_column(null=True, blank=True)
    to_face_mm = mm_column(default=0)
    jaws = models.PositiveSmallIntegerField(default=4)

    class Meta(Resource.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(condition=Q(jaws__in=[3, 4]), name="fixture_three_or_four_jaws"),
            models.CheckConstraint(
                condition=Q(planes_apart_mm=None) | Q(planes_apart_mm__gt=0),
                name="fixture_planes_apart_positive",
            ),
        ]


class Lathe(Resource):
    """`dial_factor`: depth along the spindle for one millimetre on the dial; 1 for the carriage."""

    dial_factor = models.DecimalField(max_digits=7, decimal_places=5, default=1)

    class Meta(Resource.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(
                condition=Q(dial_factor__gt=0, dial_factor__lte=1), name="lathe_dial_factor_0_to_1"
            )
        ]


class ToolEdge(Resource):
    """One edge in one holder slot of one lathe. Changing it is a service event and a new edge."""

    lathe = models.ForeignKey(Lathe, on_delete=models.PROTECT, related_name="edges")
    slot = models.CharField(max_length=20)
    edge_radius_um = models.DecimalField(max_digits=7, decimal_places=2)
    nose_radius_mm = mm_column(default="0.4")

    class Meta(Resource.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(condition=Q(edge_radius_um__gt=0), name="edge_radius_positive"),
            models.CheckConstraint(condition=Q(nose_radius_mm__gt=0), name="nose_radius_positive"),
            models.UniqueConstraint(
                fields=["lathe", "slot"],
                condition=Q(retired_at__isnull=True),
                name="one_edge_in_a_slot",
            ),
        ]


class Gauge(Resource):
    """A measuring instrument. `calibration_u_mm` is the standard uncertainty of its certificate."""

    serial = models.CharField(max_length=60, blank=True)
    step_mm = mm_column()
    step_value = entered_value_column()
    step_unit = unit_column()
    calibration_due = models.DateField(null=True, blank=True)
    calibration_u_mm = mm_column(default=0)

    class Meta(Resource.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(condition=Q(step_mm__gt=0), name="gauge_step_positive"),
            at_least_zero("calibration_u_mm", "gauge_calibration_u_not_negative"),
        ]


class ServiceKind(models.TextChoices):
    REINDICATED = "re_indicated", "re-indicated"
    EDGE_CHANGED = "edge_changed", "edge changed"
    CALIBRATED = "calibrated", "calibrated"
    DRESSED = "dressed", "dressed"
    ADJUSTED = "adjusted", "adjusted"
    REPAIRED = "repaired", "repaired"


class CauseFound(models.TextChoices):
    """What a service says of an open flag that suspects what was serviced."""

    HERE = "here", "yes, here: it had moved or worn"
    IN_ORDER = "in_order", "no, it was in order"
    TO_BE_SEEN = "to_be_seen", "not yet: the next jobs will tell"
    NOT_KNOWN = "not_known", "not known, and the flag may go"


class ServiceEvent(models.Model):
    """Work done on one resource, with what was found and what was left. at, by: when it was done,
    and by whom. `reported`: what it was made from, and which lead confirmed that, where whoever did
    it reported it. tells_later: open flags that suspect it stayed open, for the jobs after it to
    say whether it was the one."""

    kind = models.CharField(max_length=16, choices=ServiceKind.choices)
    fixture = models.ForeignKey(
        Fixture, null=True, blank=True, on_delete=models.PROTECT, related_name="services"
    )
    lathe = models.ForeignKey(
        Lathe, null=True, blank=True, on_delete=models.PROTECT, related_name="services"
    )
    edge = models.ForeignKey(
        ToolEdge, null=True, blank=True, on_delete=models.PROTECT, related_name="services"
    )
    gauge = models.ForeignKey(
        Gauge, null=True, blank=True, on_delete=models.PROTECT, related_name="services"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    as_found_mm = mm_column(null=True, blank=True)
    as_left_mm = mm_column(null=True, blank=True)
    note = models.TextField(blank=True)
    tells_later = models.BooleanField(default=False)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            one_of("kind", ServiceKind, "service_kind_known"),
            models.CheckConstraint(
                name="service_of_exactly_one",
                condition=(
                    Q(fixture__isnull=False, lathe=None, edge=None, gauge=None)
                    | Q(fixture=None, lathe__isnull=False, edge=None, gauge=None)
                    | Q(fixture=None, lathe=None, edge__isnull=False, gauge=None)
                    | Q(fixture=None, lathe=None, edge=None, gauge__isnull=False)
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.subject} {self.get_kind_display()}"

    @property
    def about_kind(self) -> str:
        """As a flag names the kinds of its suspects."""
        kinds = ("fixture", "lathe", "edge", "gauge")
        return next(one for one in kinds if getattr(self, f"{one}_id") is not None)

    @property
    def about(self) -> tuple[str, int]:
        """Kind and key of what was serviced."""
        return self.about_kind, self.subject.pk

    @property
    def subject(self) -> Resource:
        subject = self.fixture or self.lathe or self.edge or self.gauge
        assert subject is not None  # service_of_exactly_one
        return subject
