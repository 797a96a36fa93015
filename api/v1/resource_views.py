"""The endpoints that every kind of resource has; which kinds there are is in resources.py."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out
from api.bodies import Body, Listing, Why
from api.paging import page
from api.retry import once
from api.v1 import resource_forms as forms
from api.versions import is_unchanged, not_modified, on_version, with_etag
from api.view import ShopView
from qc.lookups.shop import listings
from qc.models import Resource
from qc.operations import resources


class Kind(ShopView):
    """What the endpoints of one kind of resource share. one: the name of a single one's address."""

    rows: ClassVar[Callable[[], QuerySet[Any]]]
    find: ClassVar[Callable[..., Any]]
    one: ClassVar[str]
    answer: type[Out]

    def show(self, resource: Resource, *, is_new: bool = False) -> Response:
        return with_etag(
            resource,
            self.answer(resource).data,
            status=201 if is_new else 200,
            location=reverse(f"api:{self.one}", args=[resource.pk]) if is_new else "",
        )


class Listed(Kind):
    filters = forms.ResourceFilters
    body: type[Body]
    creates = True
    register: ClassVar[Callable[..., Resource]]

    def get(self, request: Request) -> Response:
        """Those of this kind, in the order they were registered."""
        asked = self.asked(request)
        rows = type(self).rows()
        if "retired" in asked:
            rows = rows.filter(retired_at__isnull=not asked["retired"])
        return page(
            request, rows, lambda some: self.answer(some, many=True).data, newest_first=False
        )

    @once
    def post(self, request: Request) -> Response:
        """Register one. Its name is its own in whatever case."""
        made = type(self).register(by=self.by, at=timezone.now(), **self.body.parse(request.data))
        made.refresh_from_db()
        return self.show(made, is_new=True)


class Single(Kind):
    versioned = True
    body: type[Body]

    def get(self, request: Request, number: int) -> Response:
        """One of this kind."""
        resource = type(self).find(number)
        if is_unchanged(request, resource):
            return not_modified(resource)
        return self.show(resource)

    @once
    @on_version
    def patch(self, request: Request, number: int) -> Response:
        """Change what is said and leave the rest."""
        resource = type(self).find(number)
        expected = self.match.expected(resource)
        changed = resources.change_resource(
            resource=resource,
            by=self.by,
            at=timezone.now(),
            expected_version=resource.version if expected is None else expected,
            **self.body.parse(request.data),
        )
        return self.show(changed)


class Retire(Kind):
    body = Why

    @once
    @on_version
    def post(self, request: Request, number: int) -> Response:
        """Take it out of use. Its jobs keep it; no new job may choose it."""
        resource = type(self).find(number)
        retired = resources.retire(
            resource=resource,
            by=self.by,
            at=timezone.now(),
            expected_version=self.match.expected(resource),
            **Why.parse(request.data),
        )
        return self.show(retired)


class Service(Kind):
    """Service starts a new stretch on the charts of what was serviced."""

    filters = Listing
    row = forms.ServiceOut
    answer: type[Out] = forms.ServiceOut
    body: type[Body] = forms.ServiceIn
    creates = True

    def get(self, request: Request, number: int) -> Response:
        """What was done to it, newest first."""
        self.asked(request)
        events = listings.services_of(type(self).find(number))
        return page(request, events, lambda some: forms.ServiceOut(some, many=True).data)

    @once
    def post(self, request: Request, number: int) -> Response:
        """Record work done on it, with what was found and what was left."""
        event = resources.record_service(
            subject=type(self).find(number),
            by=self.by,
            at=timezone.now(),
            **self.body.parse(request.data),
        )
        return Response(forms.ServiceOut(event).data, status=201)
