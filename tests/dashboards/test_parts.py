"""The parts of pages: marks with words, fields wired to their hints and errors, table twins."""

from __future__ import annotations

import pytest
from django import forms
from django.template.loader import render_to_string

from dashboards.figures.table import table
from qc.models.jobs import State
from qc.models.results import VerdictKind


def part(file: str, /, **context: object) -> str:
    return render_to_string(f"dashboards/parts/{file}.html", context).strip()


@pytest.mark.parametrize("verdict", VerdictKind.values)
def test_a_verdict_has_a_mark_and_its_word(verdict):
    html = part("verdict_badge", verdict=verdict)
    assert "<svg" in html
    assert html.endswith(f"</svg>{VerdictKind(verdict).label}</span>")


def test_no_two_verdicts_share_a_mark():
    marks = {part("verdict_badge", verdict=v).split("</svg>")[0] for v in [*VerdictKind.values, ""]}
    assert len(marks) == len(VerdictKind.values) + 1


@pytest.mark.parametrize("state", State.values)
def test_a_state_has_a_mark_and_a_word(state):
    html = part("state_badge", state=state)
    assert "<svg" in html
    assert html.endswith(f"</svg>{State(state).label}</span>")


def test_the_ring_fills_as_work_goes_on():
    steps = ("open", "found", "planned", "set_up", "cut", "measured")
    for done, state in enumerate(steps, start=1):
        assert f'stroke-dasharray="{done} 6"' in part("state_badge", state=state)


class Reading(forms.Form):
    gap = forms.DecimalField(label="90°", help_text="Least thickness of the piece.")
    unit = forms.ChoiceField(choices=[("mm", "mm"), ("in", "inch")], widget=forms.RadioSelect)
    spring = forms.BooleanField(label="Spring pass", required=False)


def test_a_field_names_its_hint_and_its_error():
    html = part("field", field=Reading({"gap": "wide"})["gap"], suffix="mm")
    assert 'aria-describedby="id_gap_helptext id_gap_error"' in html
    assert 'id="id_gap_helptext"' in html
    assert 'id="id_gap_error"' in html
    assert 'aria-invalid="true"' in html
    assert 'value="wide"' in html
    assert '<label for="id_gap">90°' in html
    assert ">mm</span>" in html


def test_the_viewers_unit_is_not_taken_for_a_fields_suffix():
    assert "field-suffix" not in part("field", field=Reading()["gap"], unit="mm")


def test_choices_stand_in_a_fieldset_with_a_label_each():
    html = part("field", field=Reading()["unit"])
    assert "<legend>Unit" in html
    assert html.count('<label class="tick"') == 2


def test_an_optional_field_says_so():
    assert "(optional)" not in part("field", field=Reading()["gap"])
    why = type("Why", (forms.Form,), {"why": forms.CharField(required=False)})
    assert "(optional)" in part("field", field=why()["why"])


def test_errors_link_to_their_fields_and_nothing_shows_without_any():
    html = part("errors", form=Reading({"gap": "wide", "unit": "mm"}))
    assert 'role="alert"' in html
    assert '<a href="#id_gap">90°</a>' in html
    assert part("errors", form=Reading({"gap": "1", "unit": "mm"})) == ""


def test_an_error_on_choices_leads_to_their_fieldset():
    form = Reading({"gap": "1"})
    assert '<a href="#id_unit">Unit</a>' in part("errors", form=form)
    assert '<fieldset class="field" id="id_unit"' in part("field", field=form["unit"])


def test_a_table_has_row_and_column_headings():
    html = part("table", table=table(("Position", "Gap, mm"), [("90°", "0.555")]), label="Gaps")
    assert '<th scope="col">Gap, mm</th>' in html
    assert '<th scope="row">90°</th><td>0.555</td>' in html


def test_an_empty_table_says_so():
    html = part("table", table=table(("Position", "Gap, mm"), []), label="Gaps")
    assert '<td colspan="2">Nothing recorded yet.</td>' in html


def test_a_figure_names_its_place_and_carries_its_twin():
    html = part(
        "figure",
        key="gap",
        name="Gap & bore",
        url="/figures/gap",
        shape="pair",
        table=table(("Position",), [("90°",)]),
    )
    assert 'data-figure-url="/figures/gap"' in html
    assert 'aria-labelledby="gap-name"' in html
    assert "Gap &amp; bore: the numbers" in html
    assert '<th scope="row">90°</th>' in html
