"""Numbers on pages: unit always, real minus, the viewer's unit, the shop's clock."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np
import pytest
from django.template import Context, Template
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from dashboards.figures.lengths import SHOWN, whole_degrees
from qc.units import MM_PER, Unit


def printed(source: str, **context: object) -> str:
    text = Template("{% load shop_numbers %}" + source).render(Context(context))
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_the_units_are_those_lengths_are_read_in():
    assert {name: one.mm for name, one in SHOWN.items()} == {
        str(unit): MM_PER[unit] for unit in Unit
    }


@pytest.mark.parametrize(
    ("unit", "said"), [("mm", "0.520 mm"), ("in", "0.0205 in"), ("thou", "20.5 thou")]
)
def test_a_length_takes_the_viewers_unit(unit, said):
    assert printed("{% length value %}", value=Decimal("0.520000"), unit=unit) == said


def test_a_length_takes_a_unit_looked_up_only_when_asked():
    lazy = SimpleLazyObject(lambda: "thou")
    assert printed("{% length value %}", value=0.0254, unit=lazy) == "1.0 thou"


@pytest.mark.parametrize(
    ("value", "places", "unit", "said"),
    [
        (127270.4, 0, "ft/s²", "127,000 ft/s²"),
        (22075.3, 0, "m/s²", "22,100 m/s²"),
        (13250, 0, "rpm", "13,250 rpm"),
        (-9870.4, 0, "rpm", "−9870 rpm"),
        (55.1, 1, "%", "55 %"),
        (8.27, 1, "%", "8.3 %"),
        (154.32, 1, "°", "154.3°"),
    ],
)
def test_a_number_has_no_more_digits_than_people_say(value, places, unit, said):
    assert printed("{% number value places unit %}", value=value, places=places, unit=unit) == said


def test_chances_keep_the_digits_of_the_rarer_side():
    for share, said in ((0.551, "55 %"), (0.974, "97.4 %"), (0.026, "2.6 %"), (0.9995, "over")):
        assert printed("{% load chances %}{{ share|chance }}", share=share).startswith(said)
    for p, said in ((0.1331, "0.13"), (0.0512, "0.051"), (0.0004, "under 0.001")):
        assert printed("{% load chances %}{{ p|p_value }}", p=p) == said


def test_without_a_unit_a_length_is_in_millimetres():
    assert printed("{% length value %}", value=0.52) == "0.520 mm"


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (Decimal("0.0124"), "+0.012 mm"),
        (Decimal("-0.0125"), "−0.013 mm"),
        (Decimal("0.0125"), "+0.013 mm"),
        (0.0, "0.000 mm"),
        (-0.0004, "0.000 mm"),
        (np.float64(-1.5), "−1.500 mm"),
        (None, "—"),
    ],
)
def test_a_signed_length(value, said):
    assert printed("{% length value signed=True %}", value=value) == said


def test_an_unsigned_length_still_shows_its_minus():
    assert printed("{% length value %}", value=-0.02) == "−0.020 mm"


def test_mm_ignores_the_viewer():
    assert printed("{{ value|mm }} {{ value|mm:'signed' }}", value=0.5, unit="in") == (
        "0.500 mm +0.500 mm"
    )


def test_an_entered_value_keeps_every_digit():
    assert printed("{% as_entered v 'thou' %}", v=Decimal("40.20")) == "40.20 thou"
    assert printed("{% as_entered v 'mm' %}", v=Decimal("1E+1")) == "10 mm"


def test_a_numeral_has_label_digits_unit_and_note():
    html = printed(
        "{% numeral value label='Cut' signed=True note='target 0.500 mm' %}", value=-0.0121
    )
    assert "<dt>Cut</dt>" in html
    assert "<dd>−0.012 " in html
    assert ">mm</span>" in html
    assert "target 0.500 mm" in html


def test_a_numeral_without_a_value_has_no_unit():
    html = printed("{% numeral value label='Spread' %}", value=None)
    assert "<dd>—</dd>" in html


@pytest.mark.parametrize(
    ("degrees", "said"), [(139.6, "140°"), (359.7, "0°"), (-90, "270°"), (0.5, "1°"), (720, "0°")]
)
def test_degrees_run_from_0_to_359(degrees, said):
    assert whole_degrees(degrees) == said


def test_directions_and_sides():
    assert printed("{{ d|direction }}", d=139.6) == "wide toward 140°"
    assert printed("{{ d|direction }}", d=None) == "no direction"
    assert printed("{{ d|degrees }}", d=None) == "—"
    assert printed("{{ a|side }}, {{ b|side }}, {{ c|side }}", a=0, b=Decimal(180), c=90) == (
        "0° exhaust side, 180° opposite the exhaust, 90°"
    )


def test_times_are_on_the_shops_clock():
    at = datetime(2026, 3, 14, 23, 30, tzinfo=UTC)
    with timezone.override("Asia/Tokyo"):
        assert printed("{{ at|when }}", at=at) == (
            '<time datetime="2026-03-15T08:30:00+09:00">15 Mar 2026, 08:30</time>'
        )
        assert printed("{{ at|day }}", at=at) == '<time datetime="2026-03-15">15 Mar 2026</time>'
    assert printed("{{ d|day }}", d=date(2026, 3, 4)) == (
        '<time datetime="2026-03-04">4 Mar 2026</time>'
    )
    assert printed("{{ at|when }} {{ at|day }}", at=None) == "— —"


def test_a_share_is_a_whole_percentage():
    assert printed("{{ s|share }} {{ none|share }}", s=0.917, none=None) == "92 % —"


@pytest.mark.parametrize(
    ("mm", "unit", "said"),
    [
        (64, "thou", "2.520 in"),
        (19.4, "thou", "0.764 in"),
        (12.69, "thou", "499.6 thou"),
        (64, "in", "2.5197 in"),
        (64, "mm", "64.000 mm"),
    ],
)
def test_a_bore_is_told_in_inches_where_gaps_are_told_in_thou(mm, unit, said):
    assert printed("{% length value %}", value=mm, unit=unit) == said


def test_a_dial_stays_in_the_unit_it_is_read_in():
    assert printed("{% length 64 dial=True %}", unit="thou") == "2519.7 thou"
    assert printed("{% length 64 signed=True %}", unit="thou") == "+2519.7 thou"


@pytest.mark.parametrize(
    ("unit", "said"), [("mm", "0.0003 mm"), ("in", "0.00001 in"), ("thou", "0.01 thou")]
)
def test_what_is_smaller_than_a_reading_has_one_more_place(unit, said):
    assert printed("{% length value fine=True %}", value=0.000289, unit=unit) == said
