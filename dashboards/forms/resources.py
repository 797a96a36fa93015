"""Registering, changing, servicing and retiring lathes, tool edges, gauges and fixtures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dashboards.forms.bench import BenchForm, capitals, confirm_field, offered, why_field
from dashboards.forms.columns import Column, ColumnsForm, Group
from dashboards.forms.fields import LengthField, as_typed
from qc.lookups.flags.lines import one_of
from qc.lookups.pages.choices import Choice
from qc.models import CauseFound, Fixture, Gauge, Lathe, Reindication, ServiceKind, ToolEdge

NAME = Column("name", "Name", "What it is called at the bench; marked on it, best of all.")
NOTE = Column("note", "Note")
DIAL = Column(
    "dial_factor",
    "Dial factor",
    "Depth along the spindle for one millimetre on the dial: 1 for the carriage, the sine or "
    "cosine of its setting for the compound.",
)
RADIUS = Column(
    "edge_radius_um",
    "Cutting edge radius, µm",
    "How sharp it is: about 5 to 10 for a polished insert, 30 to 50 for a honed, coated or worn "
    "one (common practice, no source); one new carbide edge was measured at 15. It sets the "
    "smallest chip.",
    above_zero=True,
)
NOSE = Column(
    "nose_radius_mm",
    "Nose radius",
    "As the insert's box states it; it sets the finish.",
    above_zero=True,
)
PLANES = Column(
    "planes_apart_mm",
    "Between the two indicated circles",
    "Along the axis, where it is indicated in two planes; empty for one. With it indicating tells "
    "a lean from an offset.",
    above_zero=True,
)
FACE = Column(
    "to_face_mm", "From the outer circle to the cylinder's base", "Along the axis, outward."
)
JAWS = Column(
    "jaws",
    "Jaws that hold it",
    field=forms.TypedChoiceField(
        label="Jaws that hold it", choices=[(3, "three"), (4, "four")], coerce=int
    ),
)
SERIAL = Column("serial", "Serial number")
DUE = Column("calibration_due", "Calibration due", "The last day its readings count.")
CERTIFICATE = Column(
    "calibration_u_mm",
    "Standard uncertainty of its certificate",
    "A certificate usually states the expanded figure with k = 2: write half of that here.",
)
STEP = Column(
    "step",
    "Smallest division",
    field=LengthField(
        label="Smallest division", help_text="What one step of the display or scale is worth."
    ),
)
SLOT = Column("slot", "Holder slot", "The place in the lathe it sits in, as it is marked there.")


class FixtureForm(ColumnsForm):
    model = Fixture
    groups = (Group("", "", (NAME, JAWS, PLANES, FACE, NOTE)),)


class LatheForm(ColumnsForm):
    model = Lathe
    groups = (Group("", "", (NAME, DIAL, NOTE)),)


class EdgeForm(ColumnsForm):
    model = ToolEdge
    groups = (Group("", "", (NAME, RADIUS, NOSE, NOTE)),)


class GaugeForm(ColumnsForm):
    model = Gauge
    groups = (Group("", "", (NAME, SERIAL, DUE, CERTIFICATE, NOTE)),)


class NewGaugeForm(GaugeForm):
    groups = (Group("", "", (NAME, SERIAL, STEP, DUE, CERTIFICATE, NOTE)),)


def found_field(help_text: str, *, is_in_question: bool) -> forms.ChoiceField:
    """Asked where an open flag suspects what is serviced. is_in_question: it may as well be
    something else, which the next jobs can tell."""
    return forms.ChoiceField(
        label="Was a cause found?",
        help_text=help_text,
        choices=capitals(CauseFound.choices),
        initial=CauseFound.TO_BE_SEEN if is_in_question else CauseFound.NOT_KNOWN,
        required=False,
        widget=forms.RadioSelect,
    )


def found_of(told: dict[str, Any]) -> dict[str, CauseFound]:
    """Not known, where it was not asked or not answered."""
    return {"found": CauseFound(told.get("found") or CauseFound.NOT_KNOWN)}


class NewEdgeForm(EdgeForm):
    """`lathes` are those in use; `lathe` and `slot` may be filled in already. suspected: names of
    edges now fitted that an open flag may be about."""

    groups = (Group("", "", (SLOT, NAME, RADIUS, NOSE, NOTE)),)
    lathe = forms.TypedChoiceField(label="Lathe", coerce=int)

    def __init__(
        self,
        data: Any = None,
        *,
        unit: str,
        lathes: list[Choice],
        lathe: str = "",
        slot: str = "",
        suspected: Sequence[str] = (),
        is_in_question: bool = False,
    ) -> None:
        super().__init__(data, unit=unit)
        if suspected:
            self.fields["found"] = found_field(
                f"An open flag suspects {one_of(suspected)}. Where another edge gives way, leave "
                "it as it is.",
                is_in_question=is_in_question,
            )
            self.fields["found_note"] = why_field("What was seen on the old edge")
        self.fields["lathe"].choices = offered(lathes, none="Choose a lathe")  # type: ignore[attr-defined]
        self.initial.update({"lathe": lathe, "slot": slot})
        self.order_fields(["lathe", "slot"])

    def of_the_old(self) -> dict[str, Any]:
        """What was said of the edge that gave way."""
        told = self.cleaned_data
        return {"found_note": told.get("found_note", ""), **found_of(told)}


class ServiceWordForm(BenchForm):
    """What a service says of the open flags that suspect what was serviced. suspected: whether one
    does; is_in_question: and it may as well be something else."""

    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))
    confirm = confirm_field()

    def __init__(
        self,
        data: Any = None,
        *,
        unit: str,
        suspected: bool = False,
        is_in_question: bool = False,
        **options: Any,
    ) -> None:
        super().__init__(data, unit=unit, **options)
        if suspected:
            self.fields["found"] = found_field(
                "Where it was, the note says what.", is_in_question=is_in_question
            )
            self.order_fields(["found", "note"])

    def facts(self) -> dict[str, Any]:
        told = {name: self.cleaned_data[name] for name in self.fields}
        return told | found_of(told)


# What a kind of service takes in, where its name alone does not say.
WHAT = {ServiceKind.ADJUSTED: "adjusted: stop, gibs or dial"}


class ServiceForm(ServiceWordForm):
    """Work done on a resource. `kinds` are those that fit it."""

    kind = forms.ChoiceField(label="What was done", widget=forms.RadioSelect)

    def __init__(
        self,
        data: Any = None,
        *,
        unit: str,
        kinds: tuple[ServiceKind, ...],
        suspected: bool = False,
        is_in_question: bool = False,
    ) -> None:
        super().__init__(data, unit=unit, suspected=suspected, is_in_question=is_in_question)
        self.order_fields(["kind", "as_found_mm", "as_left_mm", "found", "note"])
        self.fields["kind"].choices = capitals(  # type: ignore[attr-defined]
            (one.value, WHAT.get(one, one.label)) for one in kinds
        )

    def facts(self) -> dict[str, Any]:
        """What `record_service` takes, lengths in Decimal mm."""
        told = super().facts()
        for name in ("as_found_mm", "as_left_mm", "calibration_u_mm"):
            if told.get(name) is not None:
                told[name] = told[name].mm
        return told


class FixtureServiceForm(ServiceForm):
    as_found_mm = LengthField(
        label="As found", required=False, help_text="Side to side on the dial, before."
    )
    as_left_mm = LengthField(label="As left", required=False, help_text="The same, afterwards.")


class GaugeServiceForm(ServiceForm):
    as_found_mm = LengthField(
        label="As found",
        required=False,
        help_text="Its error against a standard, before: plus where it reads too much.",
    )
    as_left_mm = LengthField(label="As left", required=False, help_text="The same, afterwards.")
    calibration_due = forms.DateField(
        label="Next calibration due",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Needed after a calibration.",
    )
    calibration_u_mm = LengthField(
        label="Standard uncertainty of the new certificate",
        required=False,
        help_text="Half of an expanded figure with k = 2. Left empty, the old one stays.",
    )


class ReindicationForm(BenchForm):
    """What whoever stands at the lathe reports."""

    as_found_mm = LengthField(
        label="As found", required=False, help_text="Side to side on the dial, before."
    )
    as_left_mm = LengthField(label="As left", help_text="The same, afterwards.")
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))
    confirm = confirm_field()

    @staticmethod
    def starts(reported: Reindication, unit: str) -> dict[str, str]:
        """What its fields hold at first where a report is corrected."""
        return {
            "as_found_mm": as_typed(reported.as_found_mm, unit),
            "as_left_mm": as_typed(reported.as_left_mm, unit),
            "note": reported.note,
        }

    def facts(self) -> dict[str, Any]:
        """What `report` and `correct` take, lengths in Decimal mm."""
        found, left = self.cleaned_data["as_found_mm"], self.cleaned_data["as_left_mm"]
        return {
            "as_found_mm": None if found is None else found.mm,
            "as_left_mm": left.mm,
            "note": self.cleaned_data["note"],
            "confirm": self.cleaned_data["confirm"],
        }


class RetireForm(forms.Form):
    why = why_field("Why is it retired?")
