"""Charts designed for a wish, and how a pace is said."""

import pytest

from qc.errors import BadInput
from qc.numerics.run_length import (
    cusum_arl,
    design_charts,
    ewma_arl,
    individuals_arl,
    individuals_ewma_arl,
    pace_sentence,
)


def test_designs_keep_their_promise_and_the_quickest_comes_first():
    designs = design_charts(months_between_flags=12, jobs_per_month=25, shift=0.02, sigma=0.02)
    by_name = {design.chart: design for design in designs}
    assert [d.jobs_to_find for d in designs] == sorted(d.jobs_to_find for d in designs)
    single, slow = by_name["individuals"], by_name["ewma"]
    assert individuals_arl(single.individuals) == pytest.approx(300)
    assert ewma_arl(slow.ewma, weight=slow.weight) == pytest.approx(300, rel=1e-5)
    both = by_name["individuals and ewma"]
    pair = individuals_ewma_arl(both.individuals, both.ewma, weight=both.weight)
    assert pair == pytest.approx(300, rel=1e-5)
    plain, headed = sorted((d for d in designs if d.chart == "cusum"), key=lambda d: d.head_start)
    assert (plain.head_start, headed.head_start) == (0, headed.h / 2)
    for sums in (plain, headed):
        arl = cusum_arl(k=sums.k, h=sums.h, head_start=sums.head_start)
        assert arl == pytest.approx(300, rel=1e-5)
        assert sums.outlook.false.arl == pytest.approx(300, rel=1e-5)
    assert headed.outlook.at_start.arl < 0.7 * plain.outlook.at_start.arl
    # One sigma: a fourth of the jobs single points need.
    assert slow.jobs_to_find < single.jobs_to_find / 3


def test_a_large_shift_is_found_by_single_points_as_soon_as_by_any():
    designs = design_charts(months_between_flags=12, jobs_per_month=25, shift=4.0, sigma=1.0)
    by_name = {design.chart: design for design in designs}
    assert by_name["individuals"].jobs_to_find < 1.25
    assert designs[0].jobs_to_find > 0.9 * by_name["individuals"].jobs_to_find


@pytest.mark.parametrize("wish", [{"shift": 0.05}, {"months_between_flags": 2000}])
def test_a_wish_that_no_chart_can_meet_is_refused(wish):
    asked = {"months_between_flags": 12, "jobs_per_month": 25, "shift": 1.0, "sigma": 1.0}
    with pytest.raises(BadInput):
        design_charts(**{**asked, **wish})


@pytest.mark.parametrize(
    ("jobs", "per_month", "sentence"),
    [
        (350, 25, "about once in 14 months at this pace"),
        (25, 25, "about once a month at this pace"),
        (370.4, 5, "about once in 6 years at this pace"),
        (10, 40, "about 4 times a month at this pace"),
        (29, 40, "about once a month at this pace"),
    ],
)
def test_pace_is_said_in_plain_words(jobs, per_month, sentence):
    assert pace_sentence(jobs, per_month) == sentence
