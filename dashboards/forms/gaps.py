"""As-found and achieved readings: crushed solder round the bore, and how it was taken."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from django import forms

from dashboards.forms.bench import confirm_field, offer, pick, why_field
from dashboards.forms.fields import LengthField, as_typed
from dashboards.forms.readings import Box, BoxRow, ReadingsForm
from qc.lookups.pages import choices
from qc.lookups.record.jobs import JobRecord
from qc.models import Kind, Person

USUAL = {0: "0° exhaust", 90: "90°", 180: "180°", 270: "270°"}


class GapForm(ReadingsForm):
    """Field names are those the rules use: at_0 is the first piece's first crush at 0 degrees."""

    count_limits = {"pieces": (1, 6), "crushes": (1, 4), "others": (0, 8)}
    kind: Kind
    told: str

    gauge = pick("Gauge")
    base_gasket = LengthField(
        label="Base gasket in place, compressed",
        help_text="0 for a bare base. The gap follows it one for one.",
    )
    solder = LengthField(
        label="Solder diameter",
        required=False,
        help_text="Thicker than the gap, or nothing is crushed.",
    )
    measuring_radius = LengthField(
        label="Measuring radius",
        required=False,
        help_text="From the bore's centre to the crushed end. The family's, unless you say.",
    )
    measured_by = pick("Measured by")
    bolts_torqued = forms.BooleanField(label="Bolts at working torque", required=False)
    why_fewer = why_field("Why fewer than four positions")
    why_again = why_field("Why it is taken again")
    note = why_field("Note")
    confirm = confirm_field()

    def __init__(self, data: Any = None, *, on: date, **options: Any) -> None:
        self.on = on
        super().__init__(data, **options)

    def add_fields(self) -> None:
        super().add_fields()
        offer(self, "gauge", choices.gauges(on=self.on), none="Choose a gauge")
        offer(self, "measured_by", choices.recorders())

    def boxes(self) -> list[Box]:
        pieces, crushes, others = (self.counts[name] for name in self.count_limits)
        usual = [
            Box(_name(at, piece, crush), label, at, piece=piece, crush=crush)
            for piece in range(1, pieces + 1)
            for crush in range(1, crushes + 1)
            for at, label in USUAL.items()
        ]
        elsewhere = [
            Box(f"other_{n}", "Gap there", degrees_name=f"other_{n}_deg")
            for n in range(1, others + 1)
        ]
        return usual + elsewhere

    def box_rows(self) -> Iterator[BoxRow]:
        boxes, wide = self.boxes(), len(USUAL)
        usual = wide * self.counts["pieces"] * self.counts["crushes"]
        for start in range(0, usual, wide):
            row = boxes[start : start + wide]
            crush = f", crush {row[0].crush}" if self.counts["crushes"] > 1 else ""
            yield BoxRow(f"Piece {row[0].piece}{crush}", [self.entry(box) for box in row])
        for number, box in enumerate(boxes[usual:], start=1):
            yield BoxRow(f"Other position {number}", [self.entry(box)])

    def values(self) -> dict[str, Any]:
        """What record_gap_readings takes, but for the rows that keys stand for."""
        names = (
            "readings base_gasket solder measuring_radius bolts_torqued why_fewer why_again note "
            "confirm"
        )
        return {name: self.cleaned_data[name] for name in names.split()}


def _name(at: int, piece: int, crush: int) -> str:
    return f"at_{at}" if piece == crush == 1 else f"at_{at}_{piece}_{crush}"


class AsFoundForm(GapForm):
    kind, told = Kind.AS_FOUND, "As-found"


class AchievedForm(GapForm):
    kind, told = Kind.ACHIEVED, "Achieved"
    why_no_cut = why_field(
        "Why there is no cut on record",
        help_text="No pass of this round is recorded. Say why, or record the passes first.",
    )
    parts_changed = forms.BooleanField(
        label="Piston, rod, head, head gasket or crankcase changed since as-found",
        required=False,
        help_text="Then there is no prediction to hold this against, and no height error.",
    )

    def values(self) -> dict[str, Any]:
        asked = {name: self.cleaned_data[name] for name in ("why_no_cut", "parts_changed")}
        return {**super().values(), **asked}


def usual_answers(record: JobRecord, kind: Kind, person: Person) -> dict[str, Any]:
    """What such a set is most likely taken with; every one of them can be changed."""
    round_ = record.newest.round
    gasket = record.job.cylinder.family.gasket_mm
    if kind == Kind.ACHIEVED and round_.gasket_next_mm is not None:
        gasket = round_.gasket_next_mm
    return {
        "unit": person.unit,
        "gauge": choices.gauge_last_used(person),
        "measured_by": person.pk,
        "base_gasket": as_typed(gasket, person.unit),
        "bolts_torqued": True,
    }
