"""Who the asker is, and what the shop has chosen."""

from __future__ import annotations

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out
from api.lengths import LengthOut
from api.view import ShopView
from qc.lookups.record.carry_through import own_share
from qc.lookups.shop.policy import shop_policy
from qc.models import ChartsBy, Role, RuleSet
from qc.units import Unit

UNITS = [unit.value for unit in Unit]


class TokenOut(Out):
    name = serializers.CharField()
    hint = serializers.CharField(help_text="The start of the key.")
    made_at = serializers.DateTimeField()


class MeOut(Out):
    username = serializers.CharField(source="person.username")
    name = serializers.CharField(source="person.name")
    role = serializers.ChoiceField(
        choices=Role.choices, help_text="The person's, or the token's where that reaches less far."
    )
    unit = serializers.ChoiceField(source="person.unit", choices=UNITS)
    token = TokenOut()


class Me(ShopView):
    answer = MeOut

    def get(self, request: Request) -> Response:
        """Whose token this is and how far it reaches."""
        return Response(MeOut(request.auth).data)


class OwnShareOut(Out):
    """The shop's clocking tests pooled; u is one standard uncertainty."""

    value = serializers.FloatField()
    u = serializers.FloatField()
    tests = serializers.IntegerField()


class ShopOut(Out):
    """The choices in force. Each result points at the ones it was judged by."""

    shop_name = serializers.CharField()
    time_zone = serializers.CharField()
    unit = serializers.ChoiceField(choices=UNITS)
    since = serializers.DateTimeField(allow_null=True)
    evenness_limit = LengthOut(source="evenness_limit_mm")
    guard_factor = serializers.FloatField()
    overdue_gauge_is_refused = serializers.BooleanField()
    indicating_is_required = serializers.BooleanField()
    indicating_limit = LengthOut(source="indicating_limit_mm")
    rough_max = LengthOut(source="rough_max_mm")
    finish = LengthOut(source="finish_mm")
    chip_ratio = serializers.FloatField()
    smallest_chip = LengthOut(source="smallest_chip_mm")
    repeat_sd = LengthOut(source="repeat_sd_mm")
    gasket_u = LengthOut(source="gasket_u_mm")
    torque_u = LengthOut(source="torque_u_mm")
    float_u = LengthOut(source="float_u_mm")
    carry_through = serializers.FloatField(
        allow_null=True, help_text="Share of an indicated lean that reaches the gap, in force."
    )
    carry_through_u = serializers.FloatField()
    own_carry_through = OwnShareOut(
        allow_null=True, help_text="What the shop's own clocking tests say; a lead may take it."
    )
    false_flags_per_season = serializers.FloatField()
    season_months = serializers.IntegerField()
    season_jobs = serializers.IntegerField()
    reindicating_minutes = serializers.IntegerField()
    edge_minutes = serializers.IntegerField(help_text="Fitting a fresh edge and touching it off.")
    gauge_minutes = serializers.IntegerField(help_text="Checking it on a standard, setting it.")
    lathe_minutes = serializers.IntegerField(help_text="Going over its dial, stop and play.")
    miss_in_reindications = serializers.FloatField(
        help_text="What a missed job costs, in re-indications."
    )
    charts_by = serializers.ChoiceField(choices=ChartsBy.choices)
    rule_set = serializers.ChoiceField(choices=RuleSet.choices)
    ewma_weight = serializers.FloatField()
    cusum_k = serializers.FloatField(help_text="Allowance of the cumulative sums, in sigma.")
    cusum_has_head_start = serializers.BooleanField()


class Shop(ShopView):
    answer = ShopOut

    def get(self, request: Request) -> Response:
        """The shop's policy in force: limits, uncertainties and what may be skipped."""
        policy, own = shop_policy(), own_share()
        told = None if own is None else {"value": own.value, "u": own.u, "tests": len(own.tests)}
        return Response(ShopOut({**vars(policy), "own_carry_through": told}).data)
