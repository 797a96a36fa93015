"""Engine families and the cylinders that come in."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.bodies import Listing, Why
from api.paging import page
from api.retry import once
from api.v1 import engine_forms as forms
from api.versions import is_unchanged, not_modified, on_version, with_etag
from api.view import ShopView
from qc import access
from qc.lookups.shop import listings
from qc.models import EngineFamily
from qc.operations import engines


class Families(ShopView):
    filters = Listing
    row = forms.FamilyOut
    body = forms.FamilyIn
    answer = forms.FamilyOut
    creates = True

    def get(self, request: Request) -> Response:
        """Engine families, in the order they were added."""
        self.asked(request)
        return page(
            request,
            listings.families(),
            lambda some: forms.FamilyOut(some, many=True).data,
            newest_first=False,
        )

    @once
    def post(self, request: Request) -> Response:
        """Add an engine family: its geometry, and what the shop aims for."""
        family = engines.add_family(
            by=self.by, at=timezone.now(), **forms.FamilyIn.parse(request.data)
        )
        return with_etag(
            family,
            forms.FamilyOut(family).data,
            status=201,
            location=reverse("api:family", args=[family.pk]),
        )


class Family(ShopView):
    body = forms.FamilyChange
    answer = forms.FamilyOut
    versioned = True

    def get(self, request: Request, number: int) -> Response:
        """One engine family."""
        family = access.family(number)
        return not_modified(family) if is_unchanged(request, family) else _shown(family)

    @once
    @on_version
    def patch(self, request: Request, number: int) -> Response:
        """Change a family for the jobs to come; a job keeps the limits it opened with."""
        family = access.family(number)
        expected = self.match.expected(family)
        changed = engines.change_family(
            family=family,
            by=self.by,
            at=timezone.now(),
            expected_version=family.version if expected is None else expected,
            **forms.FamilyChange.parse(request.data),
        )
        return _shown(changed)


class FamilyRetire(ShopView):
    body = Why
    answer = forms.FamilyOut

    @once
    @on_version
    def post(self, request: Request, number: int) -> Response:
        """Open no more jobs of this family."""
        family = access.family(number)
        retired = engines.retire_family(
            family=family,
            by=self.by,
            at=timezone.now(),
            expected_version=self.match.expected(family),
            **Why.parse(request.data),
        )
        return _shown(retired)


class Cylinders(ShopView):
    filters = forms.CylinderFilters
    row = forms.CylinderOut
    body = forms.CylinderIn
    answer = forms.CylinderOut
    creates = True

    def get(self, request: Request) -> Response:
        """Cylinders, newest first."""
        asked = self.asked(request)
        rows = listings.cylinders(family_id=asked.get("family"), serial=asked.get("serial", ""))
        return page(request, rows, lambda some: forms.CylinderOut(some, many=True).data)

    @once
    def post(self, request: Request) -> Response:
        """Register a cylinder new to the shop."""
        cylinder = engines.register_cylinder(
            by=self.by, at=timezone.now(), **forms.CylinderIn.parse(request.data)
        )
        return Response(
            forms.CylinderOut(cylinder).data,
            status=201,
            headers={"Location": reverse("api:cylinder", args=[cylinder.pk])},
        )


class Cylinder(ShopView):
    answer = forms.CylinderOut

    def get(self, request: Request, number: int) -> Response:
        """One cylinder."""
        return Response(forms.CylinderOut(access.cylinder(number)).data)


def _shown(family: EngineFamily) -> Response:
    return with_etag(family, forms.FamilyOut(family).data)
