"""Which sums were left out for want of inputs, and what each would take."""

from __future__ import annotations

from qc.numerics.engine_effects.geometry import EngineGeometry


def not_computed(
    engine: EngineGeometry, *, squish_mm: float | None, tightest_mm: float | None
) -> tuple[str, ...]:
    """A sentence for each sum left out, naming what it would take."""
    needs: dict[str, dict[str, object]] = {
        "Exhaust timing": {"the exhaust height": engine.exhaust_mm},
        "Transfer timing and blowdown": {
            "the exhaust height": engine.exhaust_mm,
            "the transfer height": engine.transfer_mm,
        },
        "Compression": {"the clearance volume": engine.clearance_cc},
        "Trapped compression": {
            "the clearance volume": engine.clearance_cc,
            "the exhaust height": engine.exhaust_mm,
        },
        "Squish velocity": {
            "the squish as found": squish_mm,
            "the clearance volume": engine.clearance_cc,
            "the band width": engine.band_width_mm,
            "the loaded speed": engine.rpm_loaded,
        },
        "The gap at speed": {
            "the tightest gap as found": tightest_mm,
            **_losses(engine),
        },
        "Charge density at the spark": {
            "the clearance volume": engine.clearance_cc,
            "the spark's lead": engine.spark_btdc_deg,
        },
        "Flange left": {"the flange height": engine.flange_mm},
    }
    lacking = {s: [what for what, value in n.items() if value is None] for s, n in needs.items()}
    return tuple(f"{s} needs {_listed(what)}." for s, what in lacking.items() if what)


def _losses(engine: EngineGeometry) -> dict[str, object]:
    return {
        "the reciprocating mass": engine.reciprocating_kg,
        "the rod's shank area": engine.rod_shank_mm2,
        "the free-running speed": engine.rpm_free,
        "the bearing play": engine.bearing_radial_mm,
        "the skirt clearance": engine.skirt_clearance_mm,
        "the skirt length": engine.skirt_length_mm,
        "a carbon allowance": engine.carbon_mm,
    }


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
