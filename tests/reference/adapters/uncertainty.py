import math

from qc.numerics.capability import decision_risk
from qc.numerics.uncertainty import (
    acceptance_interval,
    combine,
    conformance_probability,
    guard_band,
    mean_u,
    resolution_u,
    standard_u,
)


def answer(case):
    asked = case.inputs
    if "estimates" in asked:
        return end_gauge(asked)
    if "readings" in asked:
        return single_sources(asked)
    if "process_mean" in asked:
        found = decision_risk(**asked)
        return {
            "p_conforming": found.conforming,
            "consumer_risk": found.consumer,
            "producer_risk": found.producer,
        }
    if "y" in asked:
        given = dict(asked)
        return {"p_conform": conformance_probability(given.pop("y"), **given)}
    if "p_conform_required" in asked:
        return guarded(asked)
    found = combine(asked["u"], asked["dof"])
    return {"u_c": found.u_mm, "dof_eff": found.df, "k95": found.k, "U95": found.expanded_mm}


def single_sources(asked):
    return {
        "rectangular": standard_u(asked["rectangular_half_width"], shape="rectangular"),
        "triangular": standard_u(asked["triangular_half_width"], shape="triangular"),
        "u_shaped": standard_u(asked["ushape_half_width"], shape="u-shaped"),
        "resolution": resolution_u(asked["resolution"]),
        "normal": asked["normal_U"] / asked["normal_k"],
        "type_a": mean_u(asked["readings"]),
    }


def guarded(asked):
    u, low, high = asked["u"], asked["lower"], asked["upper"]
    probability = asked["p_conform_required"]
    guard = guard_band(u, probability=probability)
    middle = (low + high) / 2
    return {
        "guard_one_sided": guard,
        "acceptance_one_sided": [low + guard, high - guard],
        "acceptance_exact_two_sided": acceptance_interval(
            u=u, lower=low, upper=high, probability=probability
        ),
        "acceptance_U_k2": [low + 2 * u, high - 2 * u],
        "max_p_conform": conformance_probability(middle, u=u, lower=low, upper=high),
    }


def end_gauge(asked):
    """The model is the case's; its sensitivities and second-order products are worked here."""
    x, u, df = asked["estimates"], asked["u"], asked["dof"]
    d = combine(u["d_parts"], df["d_parts"])
    parts = {
        "ls": u["ls"],
        "d": d.u_mm,
        "dalpha": x["ls"] * abs(x["theta"]) * u["dalpha"],
        "dtheta": x["ls"] * x["alpha"] * u["dtheta"],
    }
    freedom = [df["ls"], d.df, df["dalpha"], df["dtheta"]]
    whole = combine(list(parts.values()), freedom, coverage=0.99)
    products = x["ls"] * u["dalpha"] * u["theta"], x["ls"] * u["alpha"] * u["dtheta"]
    return {
        "l": x["ls"] + x["d"] - x["ls"] * (x["dalpha"] * x["theta"] + x["alpha"] * x["dtheta"]),
        "u_d": d.u_mm,
        "dof_d": d.df,
        "u_components": parts,
        "u_c": whole.u_mm,
        "dof_eff": whole.df,
        "dof_eff_truncated": math.floor(whole.df),
        "t99": whole.k,
        "U99": whole.expanded_mm,
        "u_second_order": combine([whole.u_mm, *products], [None] * 3).u_mm,
    }
