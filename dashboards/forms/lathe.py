"""At the lathe: set-up, indicating, touch-off and passes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from dashboards.forms.bench import StepForm, confirm_field, offer, pick, unit_field
from dashboards.forms.fields import GAUGE_TYPES, DegreesField, LengthField
from dashboards.forms.readings import Box, BoxRow, ReadingsForm
from qc.lookups.pages import choices
from qc.models import EngineFamily, Kind

LATHES_OWN, CARRIAGE, COMPOUND = "lathe", "carriage", "compound"
TAKE, LEAVE = "take", "leave"
ANGLES = 8


class SetUpForm(StepForm):
    fixture = pick("Fixture")
    edge = pick("Lathe and tool edge")
    clocking = DegreesField(
        label="Clocking, degrees",
        required=False,
        help_text="The clock position at which the fixture's index mark stands.",
    )
    not_clocked = forms.BooleanField(
        label="Not clocked",
        required=False,
        help_text=(
            "The cut can still be judged. But this job cannot speak about the fixture: it stays "
            "off the fixture's tilt chart, and a fixture that moved is found later."
        ),
    )
    operator = pick("At the lathe")
    dial = forms.ChoiceField(
        label="The dial that counts the depth",
        choices=[
            (LATHES_OWN, "As the lathe is set up in the shop's list"),
            (CARRIAGE, "Carriage: what the dial says is what comes off"),
            (COMPOUND, "Compound at an angle: less comes off than the dial says"),
        ],
        initial=LATHES_OWN,
        widget=forms.RadioSelect,
    )
    dial_factor = forms.DecimalField(
        label="Angle factor of the compound",
        required=False,
        decimal_places=5,
        help_text=(
            "Depth along the spindle for one unit on the dial: the cosine of the angle between "
            "slide and spindle. 0.5 at 60 degrees."
        ),
        widget=forms.TextInput(attrs=GAUGE_TYPES),
    )
    confirm = confirm_field()

    def offer_fixtures(self, family: EngineFamily) -> None:
        """Those that have held an engine of this family come first."""
        offer(self, "fixture", choices.fixtures(family), none="Choose a fixture")

    def add_fields(self) -> None:
        offer(self, "edge", choices.edges(), none="Choose a tool edge")
        offer(self, "operator", choices.recorders())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        clocking, not_clocked = cleaned.get("clocking"), cleaned.get("not_clocked")
        if clocking is None and not not_clocked and "clocking" not in self.errors:
            self.add_error("clocking", "Give the clocking, or tick that it was not clocked.")
        if clocking is not None and not_clocked:
            self.add_error("clocking", "Either give the clocking or tick not clocked, not both.")
        if cleaned.get("dial") == COMPOUND and cleaned.get("dial_factor") is None:
            self.add_error("dial_factor", "Give the compound's angle factor.")
        return cleaned

    def factor(self) -> Decimal | None:
        """None takes the lathe's own."""
        asked = self.cleaned_data["dial"]
        factors = {CARRIAGE: Decimal(1), COMPOUND: self.cleaned_data["dial_factor"]}
        return factors.get(asked)


class IndicateForm(ReadingsForm):
    """Dial readings round the fixture: any angles, in one plane or two."""

    count_limits = {"angles": (4, 24), "planes": (1, 2)}

    kind = forms.ChoiceField(
        label="When",
        choices=[
            (Kind.INDICATED_SNUG, "Before tightening (snug)"),
            (Kind.INDICATED_TIGHT, "After tightening"),
        ],
        widget=forms.RadioSelect,
    )
    gauge = pick("Indicator", required=False)
    lever_angle = DegreesField(
        label="Lever's angle to the surface, degrees",
        required=False,
        help_text="Only for a lever indicator: its readings are kept, and used times the cosine.",
    )
    confirm = confirm_field()

    def __init__(self, data: Any = None, *, on: date, **options: Any) -> None:
        self.on = on
        super().__init__(data, **options)

    def add_fields(self) -> None:
        super().add_fields()
        offer(self, "gauge", choices.indicators(on=self.on), none="Not in the list")

    @classmethod
    def typed_so_far(cls, sent: Mapping[str, Any], *, wish: str) -> dict[str, Any]:
        """A second plane is read at the positions of the first, unless they are changed there."""
        typed = super().typed_so_far(sent, wish=wish)
        if wish == "planes":
            first = {name: at for name, at in typed.items() if name.startswith("deg_1_")}
            typed |= {name.replace("deg_1_", "deg_2_"): at for name, at in first.items()}
        return typed

    def boxes(self) -> list[Box]:
        return [
            Box(f"dial_{plane}_{n}", "Dial", plane=plane, degrees_name=f"deg_{plane}_{n}")
            for plane in range(1, self.counts["planes"] + 1)
            for n in range(1, self.counts["angles"] + 1)
        ]

    def box_rows(self) -> Iterator[BoxRow]:
        boxes, each = self.boxes(), self.counts["angles"]
        headings = ("At the first plane, nearest the chuck", "At the second plane, further out")
        if self.counts["planes"] == 1:
            headings = ("Round the fixture", "")
        for plane in range(self.counts["planes"]):
            row = boxes[plane * each : (plane + 1) * each]
            yield BoxRow(headings[plane], [self.entry(box) for box in row])


def even_angles(count: int = ANGLES) -> dict[str, Any]:
    """Evenly spaced positions to start from; every one of them can be changed."""
    degrees = {f"deg_1_{n + 1}": f"{n * 360 // count}" for n in range(count)}
    return {"angles": count, **degrees}


class TouchOffForm(StepForm):
    unit = unit_field()
    dial = LengthField(label="Dial at touch-off", reading=True)
    paper = LengthField(
        label="Paper under the edge, thickness",
        required=False,
        help_text="Empty when the edge touched bare metal.",
    )


class CorrectionForm(StepForm):
    """Two buttons on the touch-off page: take the suggested dial correction, or leave it out."""

    choice = forms.ChoiceField(choices=[(TAKE, "take"), (LEAVE, "leave")])


class PassForm(StepForm):
    unit = unit_field()
    dial = LengthField(label="Dial at the end of the pass", reading=True)
    is_spring = forms.BooleanField(
        label="Spring pass: same dial again, nothing added to the depth", required=False
    )
    confirm = forms.BooleanField(label="The dial is right: record it as typed", required=False)
