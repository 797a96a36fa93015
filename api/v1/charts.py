"""The charts: one fixture's tilt, and the errors of the shop or of one lathe."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.bodies import Body
from api.fields import row_number
from api.v1.charts_out import ErrorChartOut, FixtureChartOut, fixture_chart_facts
from api.v1.flags import FlagOut
from api.view import ShopView
from qc import access
from qc.lookups.charts.error_charts import error_chart
from qc.lookups.charts.fixture_chart import fixture_chart
from qc.lookups.flags.told import flag_lines, flags_for
from qc.models import Channel


class FlaggedFixtureChartOut(FixtureChartOut):
    flags = FlagOut(many=True)


class FixtureChart(ShopView):
    answer = FlaggedFixtureChartOut

    def get(self, request: Request, number: int) -> Response:
        """A fixture's tilt, job by job on its own clock: has it moved, when, and to where?"""
        fixture = access.fixture(number)
        facts = {
            "fixture": fixture,
            **fixture_chart_facts(fixture_chart(fixture)),
            "flags": flag_lines(flags_for(self.by, fixture=fixture.pk), self.by),
        }
        return Response(FlaggedFixtureChartOut(facts).data)


class OfLathe(Body):
    lathe = row_number(help_text="Every lathe together where it is left out.")


class ErrorChart(ShopView):
    """A signal here is the shop's: edge, lathe, gauge or hands. It names no fixture."""

    filters = OfLathe
    answer = ErrorChartOut
    channel: Channel

    def get(self, request: Request) -> Response:
        asked = self.asked(request)
        lathe = access.lathe(asked["lathe"]) if "lathe" in asked else None
        return Response(ErrorChartOut(error_chart(self.channel, lathe=lathe)).data)


class TargetErrorChart(ErrorChart):
    """Achieved minus target, job by job, with limits and a weighted mean."""

    channel = Channel.TARGET_ERROR


class HeightErrorChart(ErrorChart):
    """Achieved minus predicted, job by job, with limits and a weighted mean."""

    channel = Channel.HEIGHT_ERROR
