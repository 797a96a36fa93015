"""Components, combination, the budget of a gap, probability of conformity."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, NegativeLength, NotFinite, TooFewReadings
from qc.numerics.tilt import fit_gaps
from qc.numerics.uncertainty import (
    acceptance_interval,
    combine,
    conformance_probability,
    decide,
    gap_budget,
    guard_band,
    mean_u,
    pooled_sd,
    resolution_u,
    standard_u,
)
from tests.reference.cases import TradeCase, statistics_case, trade_cases

NOTHING = {
    "gauge_step_mm": 1e-6,
    "gauge_calibration_u_mm": 0.0,
    "repeat_sd_mm": 0.0,
    "repeat_df": None,
    "gasket_u_mm": 0.0,
    "torque_u_mm": 0.0,
    "float_u_mm": 0.0,
}
FOUR = {"positions": 4, "pieces_per_position": 1}


@pytest.mark.parametrize("case", trade_cases("repeatability"))
def test_pooled_spread_as_in_the_trade_case(case: TradeCase):
    case.check(pooled_sd(case.inputs["groups"]).sd_mm)


@pytest.mark.parametrize("case", trade_cases("resolution_u"))
def test_resolution_as_in_the_trade_case(case: TradeCase):
    case.check(resolution_u(case.inputs["res"]))


@pytest.mark.parametrize("case", trade_cases("prob_conform"))
def test_conformity_as_in_the_trade_case(case: TradeCase):
    limits = {name: case.inputs.get(name) for name in ("lower", "upper")}
    case.check(conformance_probability(case.inputs["y"], u=case.inputs["u"], **limits))


@pytest.mark.parametrize("case", trade_cases("decide"))
def test_decision_as_in_the_trade_case(case: TradeCase):
    asked = dict(case.inputs)
    case.check(decide(asked.pop("y"), **asked))


def test_components_of_the_guide():
    # Source: JCGM 100:2008 4.2, 4.3, in the case file.
    case = statistics_case("t09_uncertainty", "u_blocks")
    given_ = case.inputs
    case.check(
        rectangular=standard_u(given_["rectangular_half_width"], shape="rectangular"),
        triangular=standard_u(given_["triangular_half_width"], shape="triangular"),
        u_shaped=standard_u(given_["ushape_half_width"], shape="u-shaped"),
        resolution=resolution_u(given_["resolution"]),
        type_a=mean_u(given_["readings"]),
    )


def test_end_gauge_example_of_the_guide():
    # Source: JCGM 100:2008 H.1, published values from memory; first-order terms only.
    case = statistics_case("t09_uncertainty", "gum_h1")
    x, u, df = (case.inputs[name] for name in ("estimates", "u", "dof"))
    d = combine(u["d_parts"], df["d_parts"])
    parts = {
        "ls": u["ls"],
        "d": d.u_mm,
        "dalpha": x["ls"] * abs(x["theta"]) * u["dalpha"],
        "dtheta": x["ls"] * x["alpha"] * u["dtheta"],
    }
    freedom = {"ls": df["ls"], "d": d.df, "dalpha": df["dalpha"], "dtheta": df["dtheta"]}
    whole = combine(list(parts.values()), [freedom[name] for name in parts], coverage=0.99)
    case.check(
        u_d=d.u_mm,
        dof_d=d.df,
        u_components=parts,
        u_c=whole.u_mm,
        dof_eff=whole.df,
        t99=whole.k,
        U99=whole.expanded_mm,
    )


def test_effective_freedom_with_one_infinite_part():
    case = statistics_case("t09_uncertainty", "welch_satterthwaite_a")
    got = combine(case.inputs["u"], case.inputs["dof"])
    case.check(u_c=got.u_mm, dof_eff=got.df, k95=got.k, U95=got.expanded_mm)


@pytest.mark.parametrize("name", ["pconf_zener", "pconf_two_sided_a", "pconf_two_sided_wide_u"])
def test_conformance_probability_cases(name):
    case = statistics_case("t09_uncertainty", name)
    asked = dict(case.inputs)
    case.check(p_conform=conformance_probability(asked.pop("y"), **asked))


@pytest.mark.parametrize("name", ["guard_a", "guard_b"])
def test_guard_band_cases(name):
    # Source: JCGM 106:2012 clause 8, ISO 14253-1:2017.
    case = statistics_case("t09_uncertainty", name)
    u, lower, upper, wished = (
        case.inputs[key] for key in ("u", "lower", "upper", "p_conform_required")
    )
    guard = guard_band(u, probability=wished)
    case.check(
        guard_one_sided=guard,
        acceptance_one_sided=[lower + guard, upper - guard],
        acceptance_exact_two_sided=acceptance_interval(
            u=u, lower=lower, upper=upper, probability=wished
        ),
        max_p_conform=conformance_probability((lower + upper) / 2, u=u, lower=lower, upper=upper),
    )


def test_no_reading_shows_conformity_when_u_fills_the_tolerance():
    assert acceptance_interval(u=0.06, lower=0.95, upper=1.05) is None


def test_a_certain_reading_is_in_or_out():
    got = conformance_probability([0.9, 1.0, 1.1], u=0.0, lower=1.0, upper=1.05)
    assert got.tolist() == [0.0, 1.0, 0.0]


@given(st.floats(-30, 30))
def test_both_tails_keep_their_digits(y):
    # Mirror images have the same probability, down to 1e-200.
    one, other = (
        conformance_probability(side * y, u=1.0, lower=-1.0, upper=1.0) for side in (1, -1)
    )
    assert float(one) == pytest.approx(float(other), rel=1e-12)
    assert one > 0


def test_a_single_part_keeps_its_own_freedom():
    assert combine([0.007], [9]).df == pytest.approx(9)
    assert combine([0.007], [9]).k == pytest.approx(2.262157, abs=1e-6)  # t(0.975, 9), any table
    assert combine([0.007], [None]).df is None
    assert combine([0.0], [5]).expanded_mm == 0.0


@pytest.mark.parametrize("scale", [1e-200, 1.0, 1e200])
def test_freedom_does_not_depend_on_the_unit(scale):
    assert combine([3 * scale, 4 * scale], [5, 7]).df == pytest.approx(combine([3, 4], [5, 7]).df)


def test_four_positions_by_hand():
    # Source: trade reference, section A: step 0.01 and repeats 0.010 give one position 0.0104, mean
    # of four 0.0052, tightest 0.0090; D = 2a has twice sqrt(2/4) of one position.
    budget = gap_budget(**FOUR, **NOTHING | {"gauge_step_mm": 0.01, "repeat_sd_mm": 0.010})
    assert budget.height.u_mm == pytest.approx(0.0052, abs=5e-5)
    assert budget.tightest.u_mm == pytest.approx(0.0090, abs=5e-5)
    assert budget.side_to_side is not None
    assert budget.side_to_side.u_mm == pytest.approx(0.010408 * math.sqrt(2), abs=1e-5)


@pytest.mark.parametrize(
    "name", ["gauge_calibration_u_mm", "gasket_u_mm", "torque_u_mm", "float_u_mm"]
)
def test_what_is_wrong_everywhere_alike_leaves_the_tilt_alone(name):
    budget = gap_budget(**FOUR, **NOTHING | {name: 0.005})
    assert budget.height.u_mm == pytest.approx(0.005, rel=1e-6)
    assert budget.tightest.u_mm == pytest.approx(0.005, rel=1e-6)
    assert budget.side_to_side is not None
    assert budget.side_to_side.u_mm < 1e-6


def test_pieces_average_the_repeats_but_not_the_step():
    kinds = {"gauge_step_mm": 0.01, "repeat_sd_mm": 0.010}
    one, four = (
        gap_budget(positions=4, pieces_per_position=pieces, **NOTHING | kinds) for pieces in (1, 4)
    )
    assert part(four, "repeats") == pytest.approx(part(one, "repeats") / 2)
    assert part(four, "gauge step") == pytest.approx(part(one, "gauge step"))


def test_a_needle_that_sits_still_does_not_average_over_positions():
    budget = gap_budget(**FOUR, **NOTHING | {"gauge_step_mm": 0.01, "repeat_sd_mm": 0.001})
    assert part(budget, "gauge step") == pytest.approx(resolution_u(0.01))
    rng = np.random.default_rng(7)
    level = rng.uniform(0.5, 0.6, 20_000)
    read = np.round(level / 0.01) * 0.01
    fits = fit_gaps(np.repeat(read[:, None], 4, axis=1), position_deg=[0, 90, 180, 270])
    seen = (fits.height_mm - level).std()
    assert seen == pytest.approx(resolution_u(0.01), rel=0.03)  # four standard errors: 2 %


@pytest.mark.parametrize("position", [[0, 90, 180, 270], [0, 120, 240], [0, 60, 170, 260]])
def test_sensitivities_are_those_of_simulated_fits(position):
    # A long tilt toward each direction in turn; the budget promises the worst of them.
    rng = np.random.default_rng(11)
    budget = gap_budget(
        positions=len(position),
        position_deg=position,
        pieces_per_position=1,
        **NOTHING | {"repeat_sd_mm": 0.001, "gauge_step_mm": 1e-6},
    )
    seen = {"height": 0.0, "side_to_side": 0.0, "tightest": 0.0}
    phi = np.radians(position)
    for toward in np.radians(np.arange(0, 360, 15)):
        true = 5.0 + 2.0 * np.cos(phi - toward)
        fits = fit_gaps(
            true + 0.001 * rng.standard_normal((20_000, phi.size)), position_deg=position
        )
        plane_low = fits.height_mm - fits.amplitude_mm
        for name, got in (
            ("height", fits.height_mm),
            ("side_to_side", fits.side_to_side_mm),
            ("tightest", plane_low),
        ):
            seen[name] = max(seen[name], got.std())
    for name, most in seen.items():
        assert most == pytest.approx(getattr(budget, name).u_mm, rel=0.03), name


def test_lines_come_largest_first_and_add_up_to_the_total():
    budget = gap_budget(
        **FOUR,
        **NOTHING
        | {"gasket_u_mm": 0.004, "repeat_sd_mm": 0.006, "repeat_df": 8, "torque_u_mm": 0.009},
    )
    parts = [line.u_mm * line.c_tightest for line in budget.lines]
    assert parts == sorted(parts, reverse=True)
    assert [line.name for line in budget.lines][:3] == ["bolt torque", "repeats", "base gasket"]
    assert math.hypot(*parts) == pytest.approx(budget.tightest.u_mm)


def test_few_repeats_widen_the_expanded_uncertainty():
    alone = gap_budget(**FOUR, **NOTHING | {"repeat_sd_mm": 0.01, "repeat_df": 4})
    assert alone.height.df == pytest.approx(4, rel=1e-6)
    assert alone.height.k == pytest.approx(2.776, abs=1e-3)  # t(0.975, 4), any table


@pytest.mark.parametrize(
    ("position", "height", "tightest"), [([0, 180], math.sqrt(0.5), 1.0), ([30], 1.0, 1.0)]
)
def test_fewer_positions_give_no_side_to_side(position, height, tightest):
    budget = gap_budget(
        positions=len(position),
        position_deg=position,
        pieces_per_position=1,
        **NOTHING | {"repeat_sd_mm": 0.01},
    )
    assert budget.side_to_side is None
    assert budget.height.u_mm == pytest.approx(0.01 * height, rel=1e-6)
    assert budget.tightest.u_mm == pytest.approx(0.01 * tightest, rel=1e-6)


@pytest.mark.parametrize(
    ("wrong", "refusal"),
    [
        ({"gauge_step_mm": 0.0}, BadInput),
        ({"repeat_sd_mm": math.nan}, NotFinite),
        ({"gasket_u_mm": -0.1}, NegativeLength),
        ({"repeat_df": 0}, BadInput),
        ({"pieces_per_position": 0}, BadInput),
        ({"positions": 0}, BadInput),
        ({"positions": 3, "position_deg": [0, 90]}, BadInput),
    ],
)
def test_budgets_that_cannot_be(wrong, refusal):
    with pytest.raises(refusal):
        gap_budget(**FOUR | NOTHING | wrong)


@pytest.mark.parametrize(
    ("call", "refusal"),
    [
        (lambda: pooled_sd([[0.5], []]), TooFewReadings),
        (lambda: mean_u([0.5]), TooFewReadings),
        (lambda: combine([0.1], [0.5]), BadInput),
        (lambda: combine([-0.1], [5]), BadInput),
        (lambda: combine([0.1, 0.2], [5]), BadInput),
        (lambda: conformance_probability(0.5, u=0.1), BadInput),
        (lambda: conformance_probability(0.5, u=-0.1, upper=1.0), BadInput),
        (lambda: conformance_probability(math.nan, u=0.1, upper=1.0), NotFinite),
        (lambda: decide(0.5, lower=1.0, upper=0.0, guard=0.0), BadInput),
        (lambda: guard_band(0.01, probability=0.2), BadInput),
    ],
)
def test_questions_that_cannot_be(call, refusal):
    with pytest.raises(refusal):
        call()


def test_groups_of_one_have_no_spread():
    assert pooled_sd([[0.5], [0.6]]).sd_mm is None


def part(budget, name):
    (line,) = [line for line in budget.lines if line.name == name]
    return line.u_mm * line.c_height
