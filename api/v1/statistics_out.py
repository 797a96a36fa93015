"""The shop's statistics as the API takes and tells them: capability, shifts, charts for a wish."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import Out
from api.bodies import Body
from api.fields import StrictNumber, StrictText, StrictWhole, row_number
from api.lengths import LengthOut, MmIn
from qc.models import ChartsBy, RuleSet

SIDES = ("both", "upper", "lower")


class CapabilityIn(Body):
    """What follows the question mark."""

    lathe = row_number(help_text="Every lathe together where it is left out.")
    sides = serializers.ChoiceField(
        required=False, choices=SIDES, help_text="upper: too wide. lower: too tight."
    )
    coverage = serializers.FloatField(
        required=False, min_value=0.5, max_value=0.999, help_text="Usually 0.95."
    )
    confidence = serializers.FloatField(
        required=False, min_value=0.5, max_value=0.999, help_text="Usually 0.95."
    )
    since = serializers.DateTimeField(required=False, help_text="Jobs measured then or later.")
    even_if_unsteady = serializers.BooleanField(required=False)


class IntervalOut(Out):
    low = serializers.FloatField()
    high = serializers.FloatField()


class IndexOut(Out):
    value = serializers.FloatField(allow_null=True)
    interval = IntervalOut(allow_null=True)


class OutOfToleranceOut(Out):
    below = serializers.FloatField()
    above = serializers.FloatField()
    share = serializers.FloatField()
    interval = IntervalOut()


class ToleranceIntervalOut(Out):
    low = serializers.FloatField()
    high = serializers.FloatField()
    factor = serializers.FloatField()
    coverage = serializers.FloatField()
    confidence = serializers.FloatField()


class NormalityOut(Out):
    statistic = serializers.FloatField()
    p = serializers.FloatField()
    sentence = serializers.CharField()


class IndicesOut(Out):
    cp = IndexOut()
    cpk = IndexOut()
    pp = IndexOut()
    ppk = IndexOut()
    cpm = IndexOut()


class FoundOut(Out):
    mean = serializers.FloatField()
    sd = serializers.FloatField()
    sigma = serializers.FloatField(help_text="Job to job, from moving ranges.")
    indices = IndicesOut()
    ppk_at_least = serializers.FloatField()
    tolerance_interval = ToleranceIntervalOut()
    out_of_tolerance = OutOfToleranceOut()
    normality = NormalityOut(allow_null=True)
    is_steady = serializers.BooleanField()
    unsteady_jobs = serializers.ListField(child=serializers.IntegerField())


class CapabilityOut(Out):
    """`found` is null where jobs_wanted or refusal says why. scale: what the figures are in, mm or
    halves of each job's tolerance."""

    jobs = serializers.IntegerField()
    jobs_wanted = serializers.IntegerField(help_text="How many more before anything is said.")
    since = serializers.DateTimeField(allow_null=True)
    scale = serializers.ChoiceField(choices=("mm", "tolerance"))
    lower = serializers.FloatField(allow_null=True)
    upper = serializers.FloatField(allow_null=True)
    within = serializers.FloatField(
        allow_null=True, help_text="So near the target lands the share asked for."
    )
    refusal = serializers.CharField(allow_blank=True)
    stands_out = serializers.IntegerField(
        allow_null=True, help_text="The first job that the rest do not explain."
    )
    found = FoundOut(allow_null=True)


class TrendOut(Out):
    slope_a_month = LengthOut()
    low = LengthOut()
    high = LengthOut()
    p = serializers.FloatField(allow_null=True)
    is_seen = serializers.BooleanField()


class LevelOut(Out):
    since = serializers.DateTimeField()
    until = serializers.DateTimeField()
    jobs = serializers.IntegerField()
    mean = LengthOut(source="mean_mm")


class LevelShiftOut(Out):
    """The first job at the new level, and the jobs between which it lies at 95 %."""

    job = serializers.IntegerField(source="job.job_id")
    at = serializers.DateTimeField(source="job.at")
    earliest = serializers.DateTimeField(source="earliest.at", default=None, allow_null=True)
    latest = serializers.DateTimeField(source="latest.at", default=None, allow_null=True)
    step = LengthOut(source="step_mm")


class QuantityShiftsOut(Out):
    jobs = serializers.IntegerField()
    jobs_wanted = serializers.IntegerField(help_text="How many more before anything is said.")
    trend = TrendOut(allow_null=True)
    levels = LevelOut(many=True)
    shifts = LevelShiftOut(many=True)


class ShiftsOut(Out):
    target_error = QuantityShiftsOut(help_text="A positive step is wider.")
    spread = QuantityShiftsOut()


class ChartWishIn(Body):
    """What is left out is the shop's own: its season, its pace, its jobs' scatter."""

    months_between_false_flags = StrictNumber(
        max_digits=7, decimal_places=2, required=False, min_value=0
    )
    jobs_per_month = StrictNumber(max_digits=8, decimal_places=2, required=False, min_value=0)
    shift = MmIn(help_text="To be found soon, either way.")
    sigma = MmIn(required=False, help_text="Standard deviation of single jobs.")
    within_jobs = StrictWhole(required=False, min_value=1, max_value=500)


class TakeDesignIn(ChartWishIn):
    chart = StrictText(max_length=30, help_text="One of `charts` whose can_be_taken is true.")
    why = StrictText(help_text="The reason, in a line.")


class RunLengthOut(Out):
    mean = serializers.FloatField()
    tenth = serializers.IntegerField(help_text="Within so many jobs in one case of ten.")
    half = serializers.IntegerField()
    nine_tenths = serializers.IntegerField()
    within = serializers.FloatField(help_text="Chance within `within_jobs`.")


class DesignOut(Out):
    """Widths, k, h and head start are in sigma. found: the shift comes after long without a signal
    (steady state); found_at_start: it is there at the first job (zero state)."""

    chart = serializers.CharField()
    can_be_taken = serializers.BooleanField()
    individuals_width = serializers.FloatField(allow_null=True)
    ewma_weight = serializers.FloatField(allow_null=True)
    ewma_width = serializers.FloatField(allow_null=True)
    cusum_k = serializers.FloatField(allow_null=True)
    cusum_h = serializers.FloatField(allow_null=True)
    cusum_head_start = serializers.FloatField(allow_null=True)
    false_flags = RunLengthOut()
    found = RunLengthOut()
    found_at_start = RunLengthOut()
    pace = serializers.CharField(help_text="How rare a false flag is, in words.")


class PatternsOut(Out):
    """A set of patterns by itself, as `charts` tells of a chart; its false flags are its own."""

    rule_set = serializers.ChoiceField(choices=RuleSet.choices)
    is_chosen = serializers.BooleanField()
    false_flags = RunLengthOut()
    found = RunLengthOut()
    found_at_start = RunLengthOut()
    pace = serializers.CharField(help_text="How rare a false flag is, in words.")


class WishOut(Out):
    months_between_false_flags = serializers.FloatField(source="months")
    jobs_per_month = serializers.FloatField()
    shift = LengthOut(source="shift_mm")
    sigma = LengthOut(source="sigma_mm")
    within_jobs = serializers.IntegerField()


class ChartDesignsOut(Out):
    """The quickest first. in_force: the shop's own chart at this shift, without its patterns;
    patterns: what each set of them would add."""

    wish = WishOut()
    charts = DesignOut(many=True)
    in_force = DesignOut(allow_null=True)
    patterns = PatternsOut(many=True)


class ChartsTakenOut(Out):
    charts_by = serializers.ChoiceField(choices=ChartsBy.choices)
    ewma_weight = serializers.FloatField()
    cusum_k = serializers.FloatField()
    cusum_has_head_start = serializers.BooleanField()
    false_flags_per_season = serializers.FloatField()
    since = serializers.DateTimeField()
