"""What a plan needs to know beyond the as-found readings."""

from __future__ import annotations

from dashboards.forms.bench import StepForm, unit_field
from dashboards.forms.fields import LengthField


class PlanForm(StepForm):
    unit = unit_field()
    gasket_next = LengthField(
        label="Base gasket that will be fitted, compressed", help_text="0 for a bare base."
    )
    flange = LengthField(
        label="Flange height, measured now",
        required=False,
        help_text="Without it the family's nominal height counts, less earlier cuts.",
    )
