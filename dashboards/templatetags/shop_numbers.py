"""How pages print lengths, directions, times and states: alike everywhere, unit always included.

A length arrives in mm. `{% length %}` and `{% numeral %}` print it in the viewer's unit, which the
context carries as `unit` (mm, in or thou; mm where there is none). Minus is a real minus sign.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from dashboards.figures.lengths import ABSENT, NO_BREAK, SHOWN, ShownUnit, whole_degrees
from dashboards.forms.fields import as_typed
from qc import sentences
from qc.shown import MINUS, wide_toward

register = template.Library()

Number = float | Decimal

# From here on thousands stand apart, and what was worked out keeps three digits; a speed was asked.
LARGE = 10_000
AS_ASKED = "rpm"
WHOLE_PERCENT = 10

STEPS = ("open", "found", "planned", "set_up", "cut", "measured")
STATE_WORDS = {"found": "as-found taken", "set_up": "set up", "conceded": "released on concession"}


@register.simple_tag(takes_context=True)
def length(
    context: template.Context,
    value: Number | None,
    signed: bool = False,
    size: bool = False,
    dial: bool = False,
    fine: bool = False,
) -> str:
    """{% length job.target_mm %}: 0.520 mm for one viewer, 0.0205 in for another.

    size=True: without its sign, where words say which way. dial=True: read off a dial, so in its
    unit however large. fine=True: with one more place, for what is smaller than a reading.
    """
    unit = unit_of(context).finer() if fine else unit_of(context)
    shown = unit.text(value, signed=signed, as_size=not dial)
    return shown.removeprefix(MINUS) if size else shown


@register.simple_tag(takes_context=True)
def exact_length(context: template.Context, value: Number | None) -> str:
    """{% exact_length standard.u_mm %}: every digit on record, for what is smaller than lengths
    are printed to."""
    return as_typed(value, unit_of(context).name).replace(" ", NO_BREAK) or ABSENT


@register.filter
def mm(value: Number | None, how: str = "") -> str:
    """{{ value|mm }} or {{ value|mm:"signed" }}: in millimetres whoever looks; for records."""
    return SHOWN["mm"].text(value, signed=how == "signed")


@register.simple_tag
def as_entered(value: Decimal | str, unit: str) -> str:
    """{% as_entered reading.entered_value reading.entered_unit %}: every digit as it was typed."""
    digits = f"{value:f}" if isinstance(value, Decimal) else value
    return f"{digits}{NO_BREAK}{unit}"


@register.inclusion_tag("dashboards/parts/numeral.html", takes_context=True)
def numeral(
    context: template.Context,
    value: Number | None,
    label: str,
    signed: bool = False,
    note: str = "",
) -> dict[str, Any]:
    """{% numeral plan.depth_mm label="Cut" %}: one big number, inside <dl class="numerals">."""
    unit = unit_of(context)
    if value is None:
        return {"label": label, "digits": ABSENT, "note": note}
    digits = unit.digits(value, signed=signed)
    return {"label": label, "digits": digits, "unit_name": unit.name, "note": note}


@register.simple_tag
def number(value: float | None, places: int, unit: str = "", signed: bool = False) -> str:
    """{% number row.before row.places row.unit %}: 154.3°, 6.17 : 1, 12,500 rpm; a real minus sign.

    No more digits than people say: 55 % and 8.3 %, 127,000 ft/s².
    """
    if value is None:
        return ABSENT
    if places == 0 and abs(value) >= LARGE and unit != AS_ASKED:
        value = float(f"{value:.3g}")
    if unit == "%" and abs(value) >= WHOLE_PERCENT:
        places = 0
    thousands = "," if abs(value) >= LARGE else ""
    digits = f"{value:{'+' if signed else ''}{thousands}.{places}f}".replace("-", "\N{MINUS SIGN}")
    gap = "" if unit in ("", "°") else NO_BREAK
    return f"{digits}{gap}{unit}"


@register.simple_tag(takes_context=True)
def sentence(context: template.Context, said: Mapping[str, Any] | None, otherwise: str = "") -> str:
    """{% sentence plan.said plan.reason %}: what was said, its lengths in the viewer's unit.

    otherwise: what is on record in words alone, from before sentences were kept as numbers.
    """
    if not said or "facts" not in said:
        return otherwise
    return sentences.in_words(said, length=unit_of(context).text)


@register.simple_tag(takes_context=True)
def quantity(
    context: template.Context, value: float | None, places: int, unit: str, signed: bool = False
) -> str:
    """{% quantity row.after row.places row.unit %}: as `number`, and a length as `length`."""
    if unit == "mm":
        return length(context, value, signed=signed)
    return number(value, places, unit, signed=signed)


@register.filter
def degrees(value: Number | None) -> str:
    """{{ position|degrees }}: 140°."""
    return ABSENT if value is None else whole_degrees(float(value))


@register.filter
def direction(value: Number | None) -> str:
    """{{ result.wide_deg|direction }}: wide toward 140°; says so where there is no vector."""
    return wide_toward(None if value is None else float(value))


@register.filter
def side(value: Number) -> str:
    """{{ position|side }}: a position on the engine's clock, with its name where it has one."""
    named = {0.0: " exhaust side", 180.0: " opposite the exhaust"}
    return f"{whole_degrees(float(value))}{named.get(float(value) % 360, '')}"


@register.filter
def share(value: float | None) -> str:
    """{{ month.share_inside|share }}: 92 %."""
    return ABSENT if value is None else f"{value * 100:.0f}{NO_BREAK}%"


@register.filter
def when(value: datetime | None) -> SafeString | str:
    """{{ job.measured_at|when }}: date and time on the shop's clock."""
    if value is None:
        return ABSENT
    local = timezone.localtime(value)
    words = f"{local.day} {local:%b %Y, %H:%M}"
    return format_html('<time datetime="{}">{}</time>', local.isoformat(timespec="seconds"), words)


@register.filter
def day(value: date | datetime | None) -> SafeString | str:
    """{{ gauge.due|day }}: the date alone, on the shop's clock."""
    if value is None:
        return ABSENT
    local = timezone.localtime(value).date() if isinstance(value, datetime) else value
    return format_html('<time datetime="{}">{} {}</time>', local, local.day, f"{local:%b %Y}")


@register.filter
def in_words(state: str) -> str:
    """{{ job.state|in_words }}: a state's code as people say it."""
    return STATE_WORDS.get(state, state)


@register.filter
def steps_done(state: str) -> int:
    """How many of the six steps lie behind a job in this state; all six once it is past them."""
    return STEPS.index(state) + 1 if state in STEPS else len(STEPS)


def unit_of(context: template.Context) -> ShownUnit:
    """The viewer's unit."""
    return SHOWN[context.get("unit") or "mm"]
