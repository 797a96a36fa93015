"""What the pages of the shop's statistics are asked: a promise, and charts for a wish."""

from __future__ import annotations

from django import forms

from dashboards.forms.bench import BenchForm, why_field
from dashboards.forms.fields import LengthField, as_typed
from qc.lookups.charts.capability import CapabilityWish
from qc.lookups.charts.designs import ChartWish, UsualWish

NUMBER = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
SHARES = [("0.90", "9 of 10 jobs"), ("0.95", "19 of 20 jobs"), ("0.99", "99 of 100 jobs")]
SURENESS = [("0.90", "90 %"), ("0.95", "95 %"), ("0.99", "99 %")]
SIDES = [
    ("both", "both limits"),
    ("upper", "too wide only"),
    ("lower", "too tight only"),
]


class PromiseForm(forms.Form):
    """Which limits count, for how many jobs the promise is to hold, and how surely."""

    sides = forms.ChoiceField(label="Held against", choices=SIDES)
    coverage = forms.ChoiceField(label="Promise for", choices=SHARES)
    confidence = forms.ChoiceField(label="As sure as", choices=SURENESS)
    since = forms.DateField(
        label="Jobs since",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    even_if_unsteady = forms.BooleanField(
        label="Work it out even if these jobs are not steady", required=False
    )

    def wish(self) -> CapabilityWish:
        told = self.cleaned_data
        return CapabilityWish(
            sides=told["sides"],
            coverage=float(told["coverage"]),
            confidence=float(told["confidence"]),
            even_if_unsteady=told["even_if_unsteady"],
        )


class WishForm(BenchForm):
    """At most one false flag in so many months, and a shift of this size found soon."""

    months = forms.DecimalField(
        label="A false flag in so many months",
        min_value=0,
        max_value=1200,
        max_digits=7,
        decimal_places=2,
        widget=NUMBER,
    )
    jobs_per_month = forms.DecimalField(
        label="Jobs a month",
        min_value=0,
        max_value=100_000,
        max_digits=8,
        decimal_places=2,
        widget=NUMBER,
    )
    shift = LengthField(label="Shift to find soon")
    sigma = LengthField(label="Sigma of single jobs")
    within_jobs = forms.IntegerField(
        label="Chance within so many jobs", min_value=1, max_value=500, widget=NUMBER
    )

    def wish(self) -> ChartWish:
        told = self.cleaned_data
        return ChartWish(
            months=float(told["months"]),
            jobs_per_month=float(told["jobs_per_month"]),
            shift_mm=float(told["shift"].mm),
            sigma_mm=float(told["sigma"].mm),
            within_jobs=told["within_jobs"],
        )


def wish_as_typed(usual: UsualWish, unit: str) -> dict[str, str]:
    """The shop's own wish as the form's entries; empty where the shop cannot say."""
    return {
        "months": _short(usual.months),
        "jobs_per_month": _short(usual.jobs_per_month),
        "shift": as_typed(usual.shift_mm, unit),
        "sigma": "" if usual.sigma_mm is None else f"{usual.sigma_mm:.4f} mm",
        "within_jobs": "5",
    }


def _short(value: float) -> str:
    """To three figures: a shop's pace is not known to more."""
    return f"{float(f'{value:.3g}'):g}"


class TakeDesignForm(WishForm):
    """One of the charts found for a wish, taken as the shop's own."""

    chart = forms.CharField(max_length=30)
    why = why_field("Why is it taken?", required=True)
