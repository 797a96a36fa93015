"""Setting standards, and gauges checked against them: bias, linearity, stability."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import NamedOut, Out
from api.bodies import Body, Listing, Why
from api.fields import Ref, StrictText, StrictYesNo
from api.lengths import LengthIn, LengthOut, MeasuredOut, MmIn
from api.paging import page
from api.retry import once
from api.v1.resource_forms import ResourceFilters, ResourceIn, ResourceOut
from api.view import ShopView
from qc import access
from qc.lookups.gauges.gauge_checks import (
    checks_of,
    gauge_standing,
    standards,
)
from qc.operations import gauge_checks, resources


class StandardIn(ResourceIn):
    size = LengthIn(help_text="As its certificate states it.")
    u = MmIn(source="u_mm", required=False, help_text="Standard uncertainty of its certificate.")


class StandardOut(ResourceOut):
    size = MeasuredOut("value_mm", as_typed="value_value", typed_unit="value_unit")
    u = LengthOut(source="u_mm")


class Standards(ShopView):
    filters = ResourceFilters
    row = StandardOut
    body = StandardIn
    answer = StandardOut
    creates = True

    def get(self, request: Request) -> Response:
        """Setting standards, in the order they were registered."""
        asked = self.asked(request)
        rows = standards(in_use=None if "retired" not in asked else not asked["retired"])
        return page(
            request, rows, lambda some: StandardOut(some, many=True).data, newest_first=False
        )

    @once
    def post(self, request: Request) -> Response:
        """Register a standard. A new certificate is a new standard."""
        made = gauge_checks.register_standard(
            by=self.by, at=timezone.now(), **StandardIn.parse(request.data)
        )
        made.refresh_from_db()
        where = reverse("api:standard", args=[made.pk])
        return Response(StandardOut(made).data, status=201, headers={"Location": where})


class Standard(ShopView):
    answer = StandardOut

    def get(self, request: Request, number: int) -> Response:
        """One standard."""
        return Response(StandardOut(access.standard(number)).data)


class RetireStandard(ShopView):
    body = Why
    answer = StandardOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Take it out of use. Checks against it stay."""
        retired = resources.retire(
            resource=access.standard(number),
            by=self.by,
            at=timezone.now(),
            **Why.parse(request.data),
        )
        return Response(StandardOut(retired).data)


class CheckIn(Body):
    standard = Ref(access.standard)
    length = LengthIn(help_text="What the gauge read.")
    confirm = StrictYesNo(required=False, help_text="The unit is right although it looks odd.")
    note = StrictText(required=False, allow_blank=True)


class CheckOut(Out):
    """`off`: reading minus standard, positive where the gauge reads over."""

    id = serializers.IntegerField()
    standard = NamedOut()
    length = MeasuredOut("value_mm")
    off = LengthOut(source="off_mm")
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    note = serializers.CharField()
    voided_at = serializers.DateTimeField(allow_null=True)
    void_reason = serializers.CharField()


class Checks(ShopView):
    filters = Listing
    row = CheckOut
    body = CheckIn
    answer = CheckOut
    creates = True

    def get(self, request: Request, number: int) -> Response:
        """Checks of a gauge against standards, newest first, void ones too."""
        self.asked(request)
        rows = checks_of(access.gauge(number))
        return page(request, rows, lambda some: CheckOut(some, many=True).data)

    @once
    def post(self, request: Request, number: int) -> Response:
        """Record what the gauge read on a standard."""
        check = gauge_checks.record_check(
            gauge=access.gauge(number),
            by=self.by,
            at=timezone.now(),
            **CheckIn.parse(request.data),
        )
        return Response(CheckOut(check).data, status=201)


class VoidCheck(ShopView):
    body = Why
    answer = CheckOut

    @once
    def post(self, request: Request, number: int, check_id: int) -> Response:
        """Void a check, keeping it."""
        check = gauge_checks.void_check(
            check=access.check(check_id, of=access.gauge(number)),
            by=self.by,
            at=timezone.now(),
            **Why.parse(request.data),
        )
        return Response(CheckOut(check).data)


class BiasOut(Out):
    """`expanded`: 95 %, scatter and the standard's own uncertainty; null for a single reading."""

    standard = NamedOut()
    readings = serializers.IntegerField()
    bias = LengthOut(source="bias_mm")
    expanded = LengthOut(source="expanded_mm", allow_null=True)
    is_off = serializers.BooleanField()


class LinearityOut(Out):
    """bias = at_middle + slope (size - middle); slope has no unit."""

    slope = serializers.FloatField()
    slope_low = serializers.FloatField(source="slope_interval.low")
    slope_high = serializers.FloatField(source="slope_interval.high")
    p = serializers.FloatField(source="p_slope", allow_null=True)
    at_middle = LengthOut()
    middle = LengthOut()


class DriftOut(Out):
    """Of the standard read most often. `reaches_at`: when the drift leaves `allowed` either way."""

    answer = serializers.ChoiceField(choices=["thin", "coarse", "steady", "drifting"])
    checks = serializers.IntegerField()
    checks_wanted = serializers.IntegerField()
    p = serializers.FloatField(allow_null=True)
    per_year = LengthOut(source="per_year_mm", allow_null=True)
    per_year_low = LengthOut(source="low_mm", allow_null=True)
    per_year_high = LengthOut(source="high_mm", allow_null=True)
    allowed = LengthOut(source="allowed_mm")
    reaches_at = serializers.DateTimeField(allow_null=True)
    interval_too_long = serializers.BooleanField(source="is_interval_too_long")


class StandingOut(Out):
    """Since the last calibration or repair, `since`."""

    since = serializers.DateTimeField(allow_null=True)
    biases = BiasOut(many=True)
    linearity = LinearityOut(allow_null=True)
    drift = DriftOut()


class GaugeStandingView(ShopView):
    answer = StandingOut

    def get(self, request: Request, number: int) -> Response:
        """Whether the gauge reads over or under, more so at one end, and whether it drifts."""
        return Response(StandingOut(gauge_standing(access.gauge(number))).data)
