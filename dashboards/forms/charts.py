"""Freezing a chart's limits, and giving them up."""

from __future__ import annotations

from typing import Any

from django import forms

from dashboards.forms.bench import why_field

# Digits beyond which nothing is the number of a job.
LONGEST = 19


class FreezeForm(forms.Form):
    first_job = forms.IntegerField(label="From job", min_value=1)
    last_job = forms.IntegerField(label="To job", min_value=1)
    leave_out = forms.CharField(
        label="Leaving out",
        required=False,
        help_text="Numbers of jobs with a known cause, with commas between. Most shops need none.",
    )
    why = why_field("Why are these jobs the shop's usual?", required=True)

    def clean_leave_out(self) -> tuple[int, ...]:
        told = self.cleaned_data["leave_out"].replace(",", " ").split()
        if not all(one.isascii() and one.isdigit() and len(one) < LONGEST for one in told):
            raise forms.ValidationError("Write job numbers with commas between, such as 41, 44.")
        return tuple(int(one) for one in told)

    @classmethod
    def starts(cls, suggested: tuple[int, int] | None) -> dict[str, Any]:
        if suggested is None:
            return {}
        return {"first_job": suggested[0], "last_job": suggested[1]}


class GiveUpForm(forms.Form):
    why = why_field("Why do these limits no longer hold?", required=True)
