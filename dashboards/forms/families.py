"""An engine family: its geometry, what the shop aims for, and what the sums of effects need."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dashboards.forms.bench import BenchForm
from dashboards.forms.columns import NUMBER, Column, ColumnsForm, Group
from dashboards.forms.fields import DegreesField, LengthField, as_typed
from qc.models import EngineFamily, PortWindow
from qc.operations.engines import WindowIn
from qc.units import Unit

WINDOW = {
    "name": "Window",
    "centre_deg": "Centre, engine clock",
    "half_width_deg": "Half its width, degrees",
    "upper_mm": "Upper edge at",
    "lower_mm": "Lower edge at",
}
RING_END = DegreesField(
    label="Ring end at, engine clock",
    required=False,
    help_text="Degrees clockwise from the exhaust's centre, seen from the head end.",
)
PORT = "How far the piston has travelled down from top dead centre when the port's edge shows."


class FamilyForm(ColumnsForm):
    model = EngineFamily
    groups = (
        Group("Name", "", (Column("name", "Name"), Column("note", "Note"))),
        Group(
            "Bore, stroke and rod",
            "Measured, or from the maker's sheet.",
            (
                Column("bore_mm", "Bore"),
                Column("stroke_mm", "Stroke"),
                Column("rod_mm", "Rod length", "Between the centres of its eyes."),
            ),
        ),
        Group(
            "Squish",
            "A job copies these when it opens and is judged by its own copy to the end: a change "
            "here is for the jobs to come. The floor is the least gap allowed anywhere round the "
            "bore; a plan never goes under it, nor under the maker's.",
            (
                Column("target_mm", "Target"),
                Column("tol_minus_mm", "Tolerance below target"),
                Column("tol_plus_mm", "Tolerance above target"),
                Column(
                    "floor_mm",
                    "The shop's floor",
                    "Rod stretch, bearing play, rock and carbon all eat into the cold gap at "
                    "speed: this is what must be left before they do.",
                ),
                Column("maker_floor_mm", "The maker's floor", "Where the maker states one."),
                Column(
                    "expected_gap_mm",
                    "Gap usually found",
                    "By this a first reading in the wrong unit is noticed.",
                ),
                Column("gasket_mm", "Base gasket, compressed", "0 where there is none."),
                Column(
                    "measuring_radius_mm",
                    "Measuring radius",
                    "From the bore's centre to where the solder is crushed.",
                ),
                Column("band_width_mm", "Squish band width"),
            ),
        ),
        Group(
            "Metal at the base",
            "With these a plan says what the flange can still give.",
            (
                Column("flange_mm", "Flange height, new"),
                Column("flange_min_mm", "Flange height, least allowed"),
                Column("flange_diameter_mm", "Flange diameter", "For the spindle speed."),
            ),
        ),
        Group(
            "Ports and chamber",
            "With these a plan says what lowering the cylinder does to timing and compression.",
            (
                Column("exhaust_mm", "Exhaust opens at", PORT),
                Column("transfer_mm", "Transfers open at", PORT),
                Column("intake_mm", "Intake edge at", PORT),
                Column(
                    "exhaust_floor_mm",
                    "Exhaust port's lower edge at",
                    "Lowering the cylinder may let the skirt uncover it at top dead centre.",
                ),
                Column(
                    "skirt_below_crown_mm",
                    "Skirt's edge below the crown's, exhaust side",
                ),
                Column("clearance_cc", "Clearance volume as found, cc"),
            ),
            is_folded=True,
        ),
        Group(
            "Running gap and speed",
            "With these a plan says what is left of the gap at speed, and how fast the charge is "
            "squeezed out. Without them it leaves those out.",
            (
                Column("rpm_loaded", "Speed under load, rpm"),
                Column("rpm_free", "Greatest speed, rpm"),
                Column("reciprocating_kg", "Piston, pin, rings and rod's upper end, kg"),
                Column("rod_shank_mm2", "Rod shank section, mm²"),
                Column("bearing_radial_mm", "Bearing play, radial, all bearings together"),
                Column("skirt_clearance_mm", "Skirt clearance"),
                Column("skirt_length_mm", "Skirt length"),
                Column("carbon_mm", "Allowance for carbon"),
                Column("spark_btdc_deg", "Spark, degrees before top dead centre"),
            ),
            is_folded=True,
        ),
        Group(
            "Ring ends",
            "With these, and the bore's windows, a plan warns where a ring end would pass one.",
            (
                Column("ring_end_deg", "Ring end at, engine clock", field=RING_END),
                Column("ring_below_crown_mm", "Ring below the crown's edge"),
            ),
            is_folded=True,
        ),
    )


class BuretteForm(forms.Form):
    """What ran in from the burette. The sum alone needs no version; keeping it asks for the
    family's as the page showed it."""

    filled_cc = forms.DecimalField(
        label="Filled from the burette, cc",
        max_digits=9,
        decimal_places=3,
        widget=forms.TextInput(attrs=NUMBER),
        help_text="Thin oil at top dead centre, up to the plug's seat, with no air left in.",
    )
    plug_well_cc = forms.DecimalField(
        label="The plug's own well, cc",
        max_digits=9,
        decimal_places=3,
        widget=forms.TextInput(attrs=NUMBER),
        help_text="What the plug's thread and shell fill once it is screwed in.",
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class WindowsForm(BenchForm):
    """The windows of a family's bore wall, a row each. A row left empty is no window."""

    SPARE = 3

    def __init__(self, data: Any = None, *, unit: str, windows: Sequence[PortWindow]) -> None:
        super().__init__(data, unit=unit)
        self.rows = len(windows) + self.SPARE
        for n in range(self.rows):
            known = windows[n] if n < len(windows) else None
            for name, field in _window_fields(known, self.unit).items():
                self.fields[f"{name}_{n}"] = field

    def grid(self) -> list[list[forms.BoundField]]:
        return [[self[f"{name}_{n}"] for name in WINDOW] for n in range(self.rows)]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for n in range(self.rows):
            row: dict[str, Any] = {name: cleaned.get(f"{name}_{n}") for name in WINDOW}
            missing = [name for name, value in row.items() if value in (None, "")]
            if 0 < len(missing) < len(WINDOW):
                for name in missing:
                    if f"{name}_{n}" not in self.errors:
                        self.add_error(f"{name}_{n}", "Fill this in too, or empty the row.")
            elif not missing and row["lower_mm"].mm <= row["upper_mm"].mm:
                self.add_error(f"lower_mm_{n}", "The lower edge is further down than the upper.")
        return cleaned

    def windows(self) -> list[WindowIn]:
        rows = [
            {name: self.cleaned_data[f"{name}_{n}"] for name in WINDOW} for n in range(self.rows)
        ]
        return [
            WindowIn(
                name=row["name"],
                centre_deg=row["centre_deg"],
                half_width_deg=row["half_width_deg"],
                upper_mm=row["upper_mm"].mm,
                lower_mm=row["lower_mm"].mm,
            )
            for row in rows
            if row["name"]
        ]


def _window_fields(known: PortWindow | None, unit: Unit) -> dict[str, forms.Field]:
    starts: dict[str, Any] = {name: getattr(known, name, None) for name in WINDOW}
    fields: dict[str, forms.Field] = {
        "name": forms.CharField(label=WINDOW["name"], max_length=60, required=False)
    }
    for name in ("centre_deg", "half_width_deg"):
        fields[name] = DegreesField(label=WINDOW[name], required=False)
    for name in ("upper_mm", "lower_mm"):
        fields[name] = length = LengthField(label=WINDOW[name], required=False)
        length.unit = unit
        starts[name] = as_typed(starts[name], unit)
    for name, field in fields.items():
        field.initial = starts[name]
    return fields
