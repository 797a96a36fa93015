"""Drawings show what their rows say, in the viewer's unit, and their twins say the same."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from dashboards.figures.accuracy import accuracy_over_months, accuracy_over_months_table
from dashboards.figures.designs import finding_curves, finding_table
from dashboards.figures.dial import dial_sweep, dial_sweep_table
from dashboards.figures.gap import gap_round_bore, gap_round_bore_table
from dashboards.figures.individuals import individuals_and_ewma, individuals_and_ewma_table
from dashboards.figures.lanes import time_lanes, time_lanes_table
from dashboards.figures.rows import Band, GapRoundBore, LanePoint, TiltEstimate, TimeLanes
from dashboards.figures.shifts import levels_table, shift_sentence, trend_sentence
from dashboards.figures.strip import SERVICE_LINE, round_ticks
from dashboards.figures.table import table
from dashboards.figures.tilt import ellipse_of, tilt_clock, tilt_clock_table
from dashboards.figures.timing import port_timing_ring, port_timing_ring_table
from tests.dashboards import sample_rows as rows
from tests.dashboards.drawings import DRAWINGS


def words_on(figure):
    return [note.text for note in figure.layout.annotations if note.text]


def hovers(figure):
    return [text for trace in figure.data for text in (trace.hovertext or ())]


def trace_with(figure, text):
    return next(t for t in figure.data if any(text in said for said in (t.hovertext or ())))


@pytest.mark.parametrize("key", DRAWINGS)
def test_goes_out_as_json_of_plain_svg_scatter(key):
    drawing = DRAWINGS[key]
    sent = json.loads(drawing.draw(drawing.rows).to_json())
    assert {trace["type"] for trace in sent["data"]} == {"scatter"}
    assert sent["layout"]["meta"]["narrow"]


@pytest.mark.parametrize("key", DRAWINGS)
def test_no_text_carries_a_tag_that_would_need_a_style(key):
    drawing = DRAWINGS[key]
    figure = drawing.draw(drawing.rows)
    for text in words_on(figure) + hovers(figure):
        assert "<" not in text.replace("<br>", "")


def test_a_job_named_with_a_tag_is_shown_as_written():
    lane = replace(rows.LANES.lanes[0], points=(LanePoint(rows.START, "<b>7</b>", 0.0),))
    figure = time_lanes(TimeLanes(lanes=(lane,)))
    assert any("&lt;b&gt;7&lt;/b&gt;" in text for text in hovers(figure))


def test_gap_points_stand_where_the_clock_says():
    figure = gap_round_bore(rows.GAP)
    trace = trace_with(figure, "achieved at 90°: 0.555")
    top, right, bottom, left = zip(trace.x, trace.y, strict=True)
    assert top[0] == pytest.approx(0)
    assert right[1] == pytest.approx(0, abs=1e-4)
    assert top[1] > 0 > bottom[1]
    assert right[0] > 0 > left[0]


def test_gap_faces_share_one_scale():
    figure = gap_round_bore(rows.GAP)
    found = trace_with(figure, "as found at 0°")
    done = trace_with(figure, "achieved at 0°")
    per_mm_found = (-found.y[2] - found.y[0]) / (1.060 - 1.000)
    per_mm_done = (-done.y[2] - done.y[0]) / (0.580 - 0.520)
    assert per_mm_found == pytest.approx(per_mm_done, rel=1e-3)
    assert {found.xaxis, done.xaxis} == {"x", "x2"}


def test_gap_rings_run_floor_tolerance_target_outward():
    figure = gap_round_bore(rows.GAP)
    radius = {t.name: math.hypot(t.x[0], t.y[0]) for t in figure.data if t.x[0] is not None}
    band = next(t for t in figure.data if t.name == "tolerance")
    reach = [math.hypot(x, y) for x, y in zip(band.x, band.y, strict=True)]
    assert radius["floor"] < min(reach) < radius["target"] < max(reach) < 1


def test_gap_says_height_and_where_it_is_wide():
    assert {"0.551", "wide toward 174°", "0.060\N{NO-BREAK SPACE}mm side to side"} <= set(
        words_on(gap_round_bore(rows.GAP))
    )


def test_gap_before_the_cut_is_one_face_without_target():
    figure = gap_round_bore(
        replace(rows.GAP, achieved=None, target_mm=None, floor_mm=None, tolerance=Band(None, None))
    )
    assert {trace.xaxis for trace in figure.data} == {"x"}
    assert "target" not in {trace.name for trace in figure.data}


def test_gap_without_a_vector_draws_points_and_no_curve():
    bare = replace(rows.ACHIEVED, wave=None, side_to_side_mm=None, wide_deg=None)
    figure = gap_round_bore(replace(rows.GAP, as_found=None, achieved=bare))
    assert not any("wide toward" in text for text in words_on(figure))
    lines = [t for t in figure.data if t.mode == "lines" and t.line.width == 3]
    assert lines == []


def test_gap_twin_gives_the_same_numbers():
    twin = gap_round_bore_table(rows.GAP)
    cells = {row[0]: row[1:] for row in twin.rows}
    assert twin.headings[1] == "As found, mm"
    assert cells["90°"] == ("1.040", "—", "0.555")
    assert cells["Tightest"] == ("0.998", "—", "0.520")
    assert cells["Floor"][-1] == "0.470"


@pytest.mark.parametrize(
    ("unit", "said"), [("mm", "0.555 mm"), ("in", "0.0219 in"), ("thou", "21.9 thou")]
)
def test_gap_speaks_the_viewers_unit(unit, said):
    said = said.replace(" ", "\N{NO-BREAK SPACE}")
    assert f"achieved at 90°: {said}" in hovers(gap_round_bore(rows.GAP, unit=unit))
    assert gap_round_bore_table(rows.GAP, unit=unit).headings[3] == f"Achieved, {unit}"


def test_tilt_strokes_end_at_the_jobs_tilt():
    trace = trace_with(tilt_clock(rows.TILT), "J-129")
    stroke, x, y = rows.STROKES[-1], trace.x[-1], trace.y[-1]
    assert math.degrees(math.atan2(x, y)) % 360 == pytest.approx(stroke.wide_deg, abs=0.05)
    newest, before = math.hypot(x, y), math.hypot(trace.x[-2], trace.y[-2])
    assert newest / before == pytest.approx(
        stroke.side_to_side_mm / rows.STROKES[-2].side_to_side_mm, rel=1e-3
    )


def test_tilt_strokes_darken_toward_today():
    figure = tilt_clock(rows.TILT)
    strength = {t.name: t.opacity for t in figure.data if t.name and t.opacity is not None}
    assert strength["earlier"] < strength["last 20"] < strength["last 5"] == 1.0


def test_tilt_says_the_direction_of_the_estimate():
    assert "wide toward 140°" in words_on(tilt_clock(rows.TILT))


def test_tilt_without_estimate_or_jobs_still_shows_the_allowed_circle():
    figure = tilt_clock(replace(rows.TILT, strokes=(), estimate=None))
    assert [trace.name for trace in figure.data if trace.name] == ["allowed"]


def test_ellipse_lies_at_the_chi_squared_quantile():
    # Chi-squared, 2 degrees of freedom, 95 %: 5.991 (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    estimate = TiltEstimate(-0.050, 0.042, 9e-5, 4e-5, 2e-5, coverage=0.95)
    x, y = ellipse_of(estimate)
    away = np.array([x - estimate.cos_mm, y - estimate.sin_mm])
    inverse = np.linalg.inv(np.array([[9e-5, 2e-5], [2e-5, 4e-5]]))
    distance = np.einsum("in,ij,jn->n", away, inverse, away)
    assert distance == pytest.approx(5.991, abs=5e-4)


def test_tilt_twin_lists_newest_first():
    twin = tilt_clock_table(rows.TILT)
    assert twin.rows[0] == ("J-129", "21 Sep 2026", "0.068", "13°")
    assert len(twin.rows) == len(rows.STROKES)


def test_lanes_share_the_time_axis_and_stand_apart():
    figure = time_lanes(rows.LANES)
    upper, lower = figure.layout.yaxis.domain, figure.layout.yaxis2.domain
    assert lower[1] < upper[0]
    assert {trace.xaxis for trace in figure.data if trace.xaxis} == {"x"}


def test_services_cross_every_lane_and_near_ones_share_a_place():
    figure = time_lanes(rows.LANES)
    ticks = [s for s in figure.layout.shapes if s.yref == "paper" and s.type == "line"]
    assert [tick.y0 for tick in ticks] == [0, 0, 0]
    assert "re-indicated<br>jaws dressed" in words_on(figure)
    assert "edge changed" in words_on(figure)


def test_a_signal_has_its_own_mark_and_says_its_rule():
    figure = time_lanes(rows.LANES)
    loud = trace_with(figure, "beyond the upper limit")
    quiet = trace_with(figure, "J-0,")
    assert loud.marker.symbol != quiet.marker.symbol
    assert len(loud.x) == 1
    assert loud.hovertext[0].startswith("signal: beyond the upper limit")


def test_lanes_of_lengths_change_unit_and_plain_statistics_do_not():
    in_mm, in_thou = time_lanes(rows.LANES), time_lanes(rows.LANES, unit="thou")
    height = [trace_with(figure, "J-5,").y[5] for figure in (in_mm, in_thou)]
    assert height[0] / height[1] == pytest.approx(0.0254)
    assert "Height error, thou" in words_on(in_thou)
    statistic = [t for t in in_thou.data if t.yaxis == "y2"]
    assert statistic[0].y[0] == 2.5


def test_lane_limits_last_as_long_as_they_held():
    edges = [s for s in time_lanes(rows.LANES).layout.shapes if s.yref == "y" and s.type == "line"]
    assert [edge.y0 for edge in edges] == pytest.approx([-0.020, 0.020])
    assert edges[0].x1 == "2026-05-04T09:30:00"


def test_lanes_twin_mixes_jobs_and_services_by_time():
    twin = time_lanes_table(rows.LANES)
    assert twin.headings == (
        "When",
        "Job",
        "Height error, mm",
        "Tilt statistic",
        "Signal or service",
    )
    assert twin.rows[0][2:] == ("+0.005", "2.50", "Height error: beyond the upper limit")
    assert ("20 Apr 2026 09:30", "—", "—", "—", "edge changed") in twin.rows
    assert twin.rows[-1][2] == "−0.004"


def test_months_carry_mean_interval_and_share():
    figure = accuracy_over_months(rows.ACCURACY)
    months = trace_with(figure, "March 2026")
    assert list(months.y) == pytest.approx([0.001, -0.007])
    assert list(months.error_y.array) == pytest.approx([0.005, 0.005])
    assert {"100", "67"} <= set(words_on(figure))


def test_months_twin_gives_the_same_numbers():
    twin = accuracy_over_months_table(rows.ACCURACY)
    told = dict(zip(twin.headings, twin.rows[1], strict=True))
    assert list(told.values())[:6] == ["April 2026", "3", "−0.007", "−0.012", "−0.002", "67"]
    assert (told["Flags raised"], told["Cause found"], told["Their minutes"]) == ("2", "1", "40")
    assert (told["Missed"], told["On flagged things"]) == ("1", "1")
    # A month without jobs, and one in which nothing but jobs was.
    assert twin.rows[0][:3] == ("May 2026", "0", "—")
    assert twin.rows[2][6:] == ("0",) * 7


def test_months_have_a_tick_for_each_service_and_a_mark_for_each_flag():
    figure = accuracy_over_months(rows.ACCURACY)
    ticks = [one for one in figure.layout.shapes if one.line.color == SERVICE_LINE["color"]]
    assert [one.x0 for one in ticks] == ["2026-03-16T09:30:00", "2026-05-04T09:30:00"]
    words = [text for trace in figure.data for text in trace.hovertext or ()]
    assert "Plug A re-indicated, 16 Mar 2026" in words
    assert "flag: Plug A seems to have moved (cause found), 13 Apr 2026" in words
    assert {"service", "flag"} <= {trace.name for trace in figure.data}


def test_months_draw_levels_and_where_a_shift_may_lie():
    figure = accuracy_over_months(rows.ACCURACY)
    levels = [t for t in figure.data if t.mode == "lines" and t.x[0] is not None]
    assert [list(t.y) for t in levels] == [[0.003, 0.003], [-0.006, -0.006]]
    bands = [s for s in figure.layout.shapes if s.type == "rect" and s.xref == "x"]
    assert [(b.x0, b.x1) for b in bands] == [("2026-03-23T09:30", "2026-04-13T09:30")]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {},
            "Shifted about 30 Mar 2026 (between 23 Mar 2026 and 13 Apr 2026) by 0.009 mm tighter.",
        ),
        (
            {"latest": rows.START + 4 * rows.WEEK},
            "Shifted about 30 Mar 2026 (between 23 and 30 Mar 2026) by 0.009 mm tighter.",
        ),
        (
            {"earliest": None, "latest": None},
            "Shifted about 30 Mar 2026 by 0.009 mm tighter.",
        ),
    ],
)
def test_a_shift_is_said_with_its_days(changes, words):
    shift = replace(rows.ACCURACY.shifts[0], **changes)
    assert shift_sentence(shift, unit="mm").replace("\N{NO-BREAK SPACE}", " ") == words


def test_a_drift_is_said_only_where_it_is_seen():
    told = {"up": "wider", "down": "tighter", "unit": "mm"}
    seen = trend_sentence(-0.003, -0.005, -0.001, is_seen=True, **told)
    assert seen == (
        "Drifting tighter by 0.003\N{NO-BREAK SPACE}mm a month "
        "(between 0.001 and 0.005\N{NO-BREAK SPACE}mm, 95 %)."
    )
    unseen = trend_sentence(0.001, -0.002, 0.004, is_seen=False, **told)
    assert unseen.startswith("No steady drift to be seen: −0.002 to +0.004")
    least = trend_sentence(0.0, -0.0002, 0.0001, is_seen=False, **told)
    assert least == "No steady drift to be seen: under 0.001 mm a month (95 %)."


def test_levels_twin_gives_each_level_with_the_step_that_began_it():
    twin = levels_table(rows.ACCURACY.levels, rows.ACCURACY.shifts, unit="mm", signed=True)
    assert twin.rows[0][2:] == ("4", "−0.006", "−0.009", "23 Mar 2026 and 13 Apr 2026")
    assert twin.rows[1][2:] == ("4", "+0.003", "—", "—")


def test_each_finding_curve_has_a_line_of_its_own():
    figure = finding_curves(rows.FINDING)
    assert len({(trace.line.color, trace.line.dash) for trace in figure.data}) == 2
    assert finding_table(rows.FINDING).rows[1] == ("2", "19", "51")


def test_chart_keeps_jobs_and_average_in_their_own_lanes():
    figure = individuals_and_ewma(rows.CHART)
    jobs, loud = trace_with(figure, "J-1,"), trace_with(figure, "average beyond its limit")
    assert (jobs.yaxis, loud.yaxis) == ("y", "y2")
    assert list(loud.x) == [12]
    edges = sorted(shape.y0 for shape in figure.layout.shapes)
    assert edges == pytest.approx([-0.026, 0.0, 0.027])


def test_chart_without_limits_says_why():
    thin = replace(rows.CHART, stretches=(), note="baseline still thin")
    figure = individuals_and_ewma(thin)
    assert "Target error, mm: baseline still thin" in words_on(figure)
    assert figure.layout.shapes == ()


def test_chart_twin_gives_values_with_the_limits_they_were_judged_by():
    twin = individuals_and_ewma_table(rows.CHART)
    assert twin.rows[0][0] == "12"
    assert twin.rows[0][3:] == (
        "−0.003",
        "−0.026",
        "+0.027",
        "+0.006",
        "−0.009",
        "+0.009",
        "average beyond its limit",
    )


def test_timing_arcs_turn_clockwise_from_top_dead_centre():
    figure = port_timing_ring(rows.PORTS)
    exhaust = trace_with(figure, "exhaust before the cut")
    assert exhaust.x[0] > 0 > exhaust.y[0]
    assert exhaust.x[-1] == pytest.approx(-exhaust.x[0], abs=1e-4)
    intake = trace_with(figure, "intake before the cut")
    assert intake.y[len(intake.y) // 2] > 0


def test_timing_twin_agrees_with_the_worked_family():
    # Alder 46, durations before and after 0.52 mm: 154.3/150.1, 117.2/111.9, 146.1/149.8.
    durations = {row[0]: row[5:] for row in port_timing_ring_table(rows.PORTS).rows}
    assert durations == {
        "exhaust": ("154.3", "150.1"),
        "transfer": ("117.2", "111.9"),
        "intake": ("146.1", "149.8"),
    }


def test_dial_runs_counter_clockwise_seen_from_the_tailstock():
    from_head = trace_with(dial_sweep(rows.DIAL, from_tailstock=False), "90°")
    from_tail = trace_with(dial_sweep(rows.DIAL), "90°")
    assert from_head.x[1] > 0
    assert from_tail.x[1] == -from_head.x[1]
    assert "seen from the tailstock" in words_on(dial_sweep(rows.DIAL))


def test_dial_says_where_to_tap_and_how_far():
    assert "tap at 90°, move 0.013\N{NO-BREAK SPACE}mm" in words_on(dial_sweep(rows.DIAL))
    still = dial_sweep(replace(rows.DIAL, tap_mm=0.0))
    assert "nothing to move" in words_on(still)


def test_dial_twin_leaves_nothing_over_for_a_pure_offset():
    assert {row[3] for row in dial_sweep_table(rows.DIAL).rows} == {"0.000"}


@pytest.mark.parametrize(
    "figure",
    [
        gap_round_bore(GapRoundBore(None, None, None, None, Band(None, None), None)),
        time_lanes(TimeLanes(lanes=())),
        accuracy_over_months(replace(rows.ACCURACY, misses=(), months=())),
        individuals_and_ewma(replace(rows.CHART, points=())),
        port_timing_ring(()),
        dial_sweep(replace(rows.DIAL, readings=())),
    ],
)
def test_an_empty_drawing_says_so(figure):
    assert len(figure.data) == 0
    assert len(words_on(figure)) == 1


@pytest.mark.parametrize(
    ("low", "high"), [(-0.041, 0.043), (0.0, 0.1), (0.0001, 0.0006), (-12, 900)]
)
def test_ticks_are_few_round_and_inside(low, high):
    ticks = round_ticks(low, high)
    step = ticks[1] - ticks[0]
    assert 2 <= len(ticks) <= 6
    assert low - 1e-9 <= ticks[0]
    assert ticks[-1] <= high + 1e-9
    assert step / 10 ** math.floor(math.log10(step)) == pytest.approx(
        round(step / 10 ** math.floor(math.log10(step)))
    )


def test_a_ragged_table_is_refused():
    with pytest.raises(ValueError, match="one cell for each heading"):
        table(("a", "b"), [("1",)])
