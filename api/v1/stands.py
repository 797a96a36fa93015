"""How a fixture, lathe, tool edge or gauge stands by the watch; what recording more would buy."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import DegreesOut, Out
from api.lengths import LengthOut
from api.v1.resource_views import Kind
from api.view import ShopView
from qc.lookups.pages.stands import stands
from qc.lookups.watch.recording_gains import recording_gains
from qc.lookups.watch.watch_now import watch_now
from qc.models import DriftChannel
from qc.sentences import in_words


class SaysOut(Out):
    """A sentence in mm, with the code it is told by."""

    code = serializers.CharField(source="said.code")
    says = serializers.SerializerMethodField()

    def get_says(self, told: Any) -> str:
        return in_words(told.said)


class KnownOut(SaysOut):
    """In the resource's own jobs; null while an open flag holds it among its suspects.

    finds_in: until a move of 0.020 mm, or a spread 1.6 times as wide, would be found if it came
    now. more_jobs: until it would be found within `within_jobs`; null where no number of them does.
    """

    channel = serializers.ChoiceField(choices=DriftChannel.choices)
    own_jobs = serializers.IntegerField(source="baseline.own_jobs", default=None, allow_null=True)
    finds_in = serializers.IntegerField(source="baseline.finds_in", default=None, allow_null=True)
    more_jobs = serializers.IntegerField(source="baseline.more_jobs", default=None, allow_null=True)
    within_jobs = serializers.IntegerField(source="baseline.within", default=None, allow_null=True)


class BelievedOut(SaysOut):
    """`standard`: its uncertainty. Tilt is side to side at a 20 mm radius; a height is positive
    where gaps come out wider; a spread is told as a ratio to the shop's."""

    channel = serializers.ChoiceField(choices=DriftChannel.choices)
    since = serializers.DateTimeField(allow_null=True)
    bias = LengthOut(source="off_mm", allow_null=True)
    standard = LengthOut(source="u_mm", allow_null=True)
    wide_toward_deg = DegreesOut(source="belief.direction_deg", allow_null=True)
    spread_ratio = serializers.FloatField(allow_null=True)
    is_told_from_none = serializers.BooleanField(source="belief.is_told")


class PaysOut(Out):
    """Of the next jobs: the chance that the next misses, as it is and just set right; after how
    many jobs setting it right pays, null: not within those looked at. best_after_jobs: where its
    own jobs tell of wear, and waiting so long costs clearly less than never; else null."""

    miss_probability = serializers.FloatField(source="advice.miss_probability")
    miss_probability_set_right = serializers.FloatField(source="advice.after_reindicating")
    minutes = serializers.IntegerField(help_text="That setting it right takes.")
    pays_after_jobs = serializers.IntegerField(source="advice.pays_after_jobs", allow_null=True)
    best_after_jobs = serializers.IntegerField(allow_null=True)


class UnexplainedOut(Out):
    """All that this flag suspected was found in order. more_jobs: of its own, would raise a flag
    again if the shift is still there."""

    flag = serializers.IntegerField(source="line.flag.pk")
    more_jobs = serializers.IntegerField()


class StandsOut(Out):
    """One entry a channel that it bears on; none for what has no measured job."""

    known = KnownOut(many=True)
    believed = BelievedOut(many=True, help_text="None while an open flag suspects it.")
    pays = PaysOut(
        allow_null=True, help_text="Null too where it would leave out what is not explained."
    )
    unexplained = UnexplainedOut(allow_null=True)


class Stands(Kind):
    answer = StandsOut

    def get(self, request: Request, number: int) -> Response:
        """How well it is known, what is believed of it, and when setting it right pays."""
        resource = type(self).find(number)
        return Response(StandsOut(stands(self.one, resource.pk, self.by)).data)


class GainOut(SaysOut):
    what = serializers.ChoiceField(
        source="told.what", choices=["clocking", "four_positions", "as_found"]
    )
    recorded = serializers.FloatField(source="told.recorded", help_text="Share of the jobs.")
    jobs_saved = serializers.FloatField(
        source="told.jobs_saved", help_text="Share of the jobs until a moved fixture is found."
    )


class GainsOut(Out):
    gains = GainOut(many=True)


class RecordingGains(ShopView):
    answer = GainsOut

    def get(self, request: Request) -> Response:
        """What recording more on every job would buy; empty where all is recorded already."""
        watch = watch_now()
        return Response(GainsOut({"gains": [] if watch is None else recording_gains(watch)}).data)
