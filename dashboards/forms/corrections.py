"""Corrections that keep what they correct, and steps left out with a reason."""

from __future__ import annotations

from collections.abc import Iterator

from django import forms

from dashboards.forms.bench import StepForm, confirm_field, unit_field, why_field
from dashboards.forms.fields import LengthField
from dashboards.forms.gaps import USUAL
from dashboards.forms.readings import Box, BoxRow, ReadingsForm

SAY_WHY = {"required": "Write one line saying why."}


class ReasonForm(StepForm):
    why = why_field("Reason", required=True, error_messages=SAY_WHY)


class LimitsForm(StepForm):
    unit = unit_field()
    target = LengthField(label="Target", reading=True)
    tol_minus = LengthField(label="Tolerance below the target", reading=True)
    tol_plus = LengthField(label="Tolerance above the target", reading=True)
    why = why_field("Reason", required=True, error_messages=SAY_WHY)
    confirm = confirm_field()


class VoidForm(StepForm):
    """`replacement` is what should have been recorded, read again or typed again."""

    unit = unit_field()
    why = why_field("Why it is void", required=True, error_messages=SAY_WHY)
    replacement = LengthField(
        label="What it should have been",
        required=False,
        reading=True,
        help_text="Empty when there is nothing to put in its place.",
    )
    confirm = confirm_field()


class AddForm(ReadingsForm):
    """One more piece, or one more crush of the newest piece, at any of the usual positions."""

    count_limits = {"others": (0, 4)}

    what = forms.ChoiceField(
        label="What is added",
        choices=[
            ("piece", "A new piece of solder"),
            ("crush", "The last piece, crushed once more"),
        ],
        initial="piece",
        widget=forms.RadioSelect,
    )
    confirm = confirm_field()

    def boxes(self) -> list[Box]:
        usual = [Box(f"at_{at}", label, at) for at, label in USUAL.items()]
        others = range(1, self.counts["others"] + 1)
        return usual + [
            Box(f"other_{n}", "Gap there", degrees_name=f"other_{n}_deg") for n in others
        ]

    def box_rows(self) -> Iterator[BoxRow]:
        boxes = self.boxes()
        yield BoxRow("Gaps", [self.entry(box) for box in boxes[: len(USUAL)]])
        for number, box in enumerate(boxes[len(USUAL) :], start=1):
            yield BoxRow(f"Other position {number}", [self.entry(box)])
