"""What engine families and cylinders take and how they are told. Port heights are piston travel
down from top dead centre. Null in an optional length: not known."""

from __future__ import annotations

from decimal import Decimal

from rest_framework import serializers

from api.answers import DegreesOut, NamedOut, Out
from api.bodies import Body, Change, Listing
from api.fields import Ref, StrictNumber, StrictText, StrictWhole, row_number
from api.lengths import LengthOut, MmIn
from qc import access

FASTEST_RPM = 100_000


def _known(source: str) -> MmIn:
    return MmIn(source=source, required=False, allow_null=True)


class FamilyIn(Body):
    name = StrictText(max_length=60)
    note = StrictText(required=False, allow_blank=True)
    bore = MmIn(source="bore_mm")
    stroke = MmIn(source="stroke_mm")
    rod = MmIn(source="rod_mm")
    exhaust = _known("exhaust_mm")
    transfer = _known("transfer_mm")
    intake = _known("intake_mm")
    clearance_cc = StrictNumber(max_digits=9, decimal_places=3, required=False, allow_null=True)
    band_width = _known("band_width_mm")
    expected_gap = _known("expected_gap_mm")
    gasket = MmIn(source="gasket_mm", required=False, help_text="Compressed; 0 for a bare base.")
    target = MmIn(source="target_mm")
    tol_minus = MmIn(source="tol_minus_mm")
    tol_plus = MmIn(source="tol_plus_mm")
    floor = MmIn(source="floor_mm")
    maker_floor = _known("maker_floor_mm")
    measuring_radius = MmIn(source="measuring_radius_mm")
    flange = _known("flange_mm")
    flange_min = _known("flange_min_mm")
    flange_diameter = _known("flange_diameter_mm")
    rpm_loaded = StrictWhole(max_value=FASTEST_RPM, required=False, allow_null=True)
    rpm_free = StrictWhole(max_value=FASTEST_RPM, required=False, allow_null=True)
    reciprocating_kg = StrictNumber(max_digits=8, decimal_places=4, required=False, allow_null=True)
    rod_shank_mm2 = StrictNumber(max_digits=9, decimal_places=3, required=False, allow_null=True)
    bearing_radial = _known("bearing_radial_mm")
    skirt_clearance = _known("skirt_clearance_mm")
    skirt_length = _known("skirt_length_mm")
    spark_btdc_deg = StrictNumber(max_digits=5, decimal_places=2, required=False, allow_null=True)
    carbon = _known("carbon_mm")
    exhaust_floor = _known("exhaust_floor_mm")
    skirt_below_crown = _known("skirt_below_crown_mm")
    ring_end_deg = StrictNumber(
        max_digits=5,
        decimal_places=2,
        min_value=0,
        max_value=Decimal("359.99"),
        required=False,
        allow_null=True,
    )
    ring_below_crown = _known("ring_below_crown_mm")


class FamilyChange(Change, FamilyIn):
    pass


def _told(source: str) -> LengthOut:
    return LengthOut(source=source, allow_null=True)


class FamilyOut(Out):
    id = serializers.IntegerField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    note = serializers.CharField()
    retired_at = serializers.DateTimeField(allow_null=True)
    bore = LengthOut(source="bore_mm")
    stroke = LengthOut(source="stroke_mm")
    rod = LengthOut(source="rod_mm")
    exhaust = _told("exhaust_mm")
    transfer = _told("transfer_mm")
    intake = _told("intake_mm")
    clearance_cc = serializers.FloatField(allow_null=True)
    band_width = _told("band_width_mm")
    expected_gap = _told("expected_gap_mm")
    gasket = LengthOut(source="gasket_mm")
    target = LengthOut(source="target_mm")
    tol_minus = LengthOut(source="tol_minus_mm")
    tol_plus = LengthOut(source="tol_plus_mm")
    floor = LengthOut(source="floor_mm")
    maker_floor = _told("maker_floor_mm")
    measuring_radius = LengthOut(source="measuring_radius_mm")
    flange = _told("flange_mm")
    flange_min = _told("flange_min_mm")
    flange_diameter = _told("flange_diameter_mm")
    rpm_loaded = serializers.IntegerField(allow_null=True)
    rpm_free = serializers.IntegerField(allow_null=True)
    reciprocating_kg = serializers.FloatField(allow_null=True)
    rod_shank_mm2 = serializers.FloatField(allow_null=True)
    bearing_radial = _told("bearing_radial_mm")
    skirt_clearance = _told("skirt_clearance_mm")
    skirt_length = _told("skirt_length_mm")
    spark_btdc_deg = serializers.FloatField(allow_null=True)
    carbon = _told("carbon_mm")
    exhaust_floor = _told("exhaust_floor_mm")
    skirt_below_crown = _told("skirt_below_crown_mm")
    ring_end_deg = DegreesOut(allow_null=True)
    ring_below_crown = _told("ring_below_crown_mm")


class CylinderFilters(Listing):
    family = row_number()
    serial = serializers.CharField(required=False, max_length=60)


class CylinderIn(Body):
    family = Ref(access.family)
    serial = StrictText(max_length=60)
    customer_reference = StrictText(max_length=80, required=False, allow_blank=True)
    earlier_cut = MmIn(
        source="earlier_cut_mm",
        required=False,
        help_text="Taken off the base before this record began.",
    )


class CylinderOut(Out):
    id = serializers.IntegerField()
    family = NamedOut()
    serial = serializers.CharField()
    customer_reference = serializers.CharField()
    earlier_cut = LengthOut(source="earlier_cut_mm")
    registered_at = serializers.DateTimeField()
