"""An engine family: its geometry, what the shop aims for, and what the sums of effects need."""

from __future__ import annotations

from dashboards.forms.columns import Column, ColumnsForm, Group
from qc.models import EngineFamily

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
                Column("bearing_radial_mm", "Bearing play, radial, both ends"),
                Column("skirt_clearance_mm", "Skirt clearance"),
                Column("skirt_length_mm", "Skirt length"),
                Column("spark_btdc_deg", "Spark, degrees before top dead centre"),
            ),
            is_folded=True,
        ),
    )
