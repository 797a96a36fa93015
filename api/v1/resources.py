"""Fixtures, lathes, tool edges and gauges: the endpoints of each kind."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out
from api.v1 import resource_forms as forms
from api.v1.resource_views import Kind, Listed, Retire, Service, Single
from api.v1.stands import Stands, StandsOut
from qc import access
from qc.lookups.charts.correction import correction_for
from qc.lookups.shop import listings
from qc.lookups.shop.policy import shop_policy
from qc.operations import resources


class FixtureKind(Kind):
    rows = staticmethod(listings.fixtures)
    find = staticmethod(access.fixture)
    one = "fixture"
    answer: type[Out] = forms.FixtureOut


class Fixtures(FixtureKind, Listed):
    row = forms.FixtureOut
    body = forms.FixtureIn
    register = staticmethod(resources.register_fixture)


class Fixture(FixtureKind, Single):
    body = forms.FixtureChange


class FixtureRetire(Retire, FixtureKind):
    pass


class FixtureService(Service, FixtureKind):
    body = forms.FixtureServiceIn


class FixtureStands(FixtureKind, Stands):
    answer = StandsOut


class LatheKind(Kind):
    rows = staticmethod(listings.lathes)
    find = staticmethod(access.lathe)
    one = "lathe"
    answer: type[Out] = forms.LatheOut


class Lathes(LatheKind, Listed):
    row = forms.LatheOut
    body = forms.LatheIn
    register = staticmethod(resources.register_lathe)


class Lathe(LatheKind, Single):
    body = forms.LatheChange


class LatheRetire(Retire, LatheKind):
    pass


class LatheService(Service, LatheKind):
    pass


class LatheStands(LatheKind, Stands):
    answer = StandsOut


class EdgeKind(Kind):
    rows = staticmethod(listings.edges)
    find = staticmethod(access.edge)
    one = "edge"
    answer: type[Out] = forms.EdgeOut


class Edges(EdgeKind, Listed):
    row = forms.EdgeOut
    body = forms.EdgeIn
    register = staticmethod(resources.fit_edge)


class Edge(EdgeKind, Single):
    body = forms.EdgeChange


class EdgeCorrection(EdgeKind):
    answer = forms.CorrectionOut

    def get(self, request: Request, number: int) -> Response:
        """The dial correction that the shop's own height errors suggest for this edge."""
        suggested = correction_for(access.edge(number), policy=shop_policy())
        return Response(forms.CorrectionOut(suggested).data)


class EdgeRetire(Retire, EdgeKind):
    pass


class EdgeService(Service, EdgeKind):
    pass


class EdgeStands(EdgeKind, Stands):
    answer = StandsOut


class GaugeKind(Kind):
    rows = staticmethod(listings.gauges)
    find = staticmethod(access.gauge)
    one = "gauge"
    answer: type[Out] = forms.GaugeOut


class Gauges(GaugeKind, Listed):
    row = forms.GaugeOut
    body = forms.GaugeIn
    register = staticmethod(resources.register_gauge)


class Gauge(GaugeKind, Single):
    body = forms.GaugeChange


class GaugeRetire(Retire, GaugeKind):
    pass


class GaugeService(Service, GaugeKind):
    body = forms.GaugeServiceIn


class GaugeStands(GaugeKind, Stands):
    answer = StandsOut
