"""The demo's invented shop: its people, machines, fixtures, gauges and engine families.

Nothing here is or resembles a real maker, model, person or shop.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class DemoPerson:
    username: str
    name: str
    role: str
    unit: str


PEOPLE = (
    DemoPerson("ines", "Ines Corvane", "lead", "mm"),
    DemoPerson("tomo", "Tomo Adelark", "operator", "mm"),
    DemoPerson("riku", "Riku Sandhow", "operator", "thou"),
    DemoPerson("adah", "Adah Quillory", "viewer", "mm"),
)
OPERATORS = ("tomo", "riku", "ines")
LATHES = ("Window lathe", "Wall lathe")
GAUGES = (
    ("Micrometer M1", "0.01", "mm", Decimal("0.0010")),
    ("Micrometer M2", "0.001", "mm", Decimal("0.0008")),
    ("Thou micrometer", "0.5", "thou", Decimal("0.0013")),
)
FIXTURES = (
    "Arbor 43-A",
    "Arbor 43-B",
    "Arbor 43-C",
    "Arbor 49-A",
    "Arbor 49-B",
    "Arbor 49-C",
    "Arbor 54-A",
    "Arbor 54-B",
)
KNOCKED = "Arbor 49-B"
WEARING_LATHE = "Wall lathe"

# Lengths in mm, volumes in cc, angles in degrees; the columns of qc.models.EngineFamily.
_FAMILY_TABLE = """
name                 Alder 46   Birch 71   Cedar 94
bore_mm              43.2       49.3       53.7
stroke_mm            31.6       37.1       41.3
rod_mm               55.4       64.8       72.6
exhaust_mm           21.5       24.7       26.8
transfer_mm          25.7       30.1       33.1
intake_mm            13.3       16.3       18.8
clearance_cc         6.09       8.96       12.15
band_width_mm        4.4        5.0        5.6
expected_gap_mm      1.02       1.05       1.12
gasket_mm            0.50       0.50       0.55
target_mm            0.50       0.53       0.56
tol_minus_mm         0.05       0.05       0.05
tol_plus_mm          0.05       0.05       0.05
floor_mm             0.42       0.45       0.47
measuring_radius_mm  19.4       22.2       24.0
flange_mm            7.0        8.0        9.0
flange_min_mm        5.5        6.2        7.0
flange_diameter_mm   64         72         80
rpm_loaded           9600       9400       9000
rpm_free             13200      12800      12200
reciprocating_kg     0.105      0.152      0.205
rod_shank_mm2        38         50         62
bearing_radial_mm    0.025      0.028      0.030
skirt_clearance_mm   0.045      0.050      0.055
skirt_length_mm      30         34         38
spark_btdc_deg       27         27         26
carbon_mm            0.05       0.05       0.05
"""


def _families() -> tuple[dict[str, str | int | Decimal], ...]:
    families: tuple[dict[str, str | int | Decimal], ...] = ({}, {}, {})
    for line in _FAMILY_TABLE.strip().splitlines():
        column, *values = re.split(r"\s{2,}", line)
        for family, value in zip(families, values, strict=True):
            family[column] = _typed(column, value)
    return families


def _typed(column: str, value: str) -> str | int | Decimal:
    if column == "name":
        return value
    return int(value) if column.startswith("rpm") else Decimal(value)


FAMILIES = _families()
FIXTURES_OF = {"Alder 46": (0, 1, 2), "Birch 71": (3, 4, 5), "Cedar 94": (6, 7)}
