import math

import numpy as np

from qc.numerics.circular import (
    directions,
    fit_circle,
    mean_vector,
    rayleigh_p_exact,
    v_test,
)
from qc.numerics.runout import fit_runout
from qc.numerics.tilt import direction_deg, fit_gap, gap_at, require_tilt


def answer(case):
    asked = case.inputs
    if "deg" in asked:
        return bearings(asked["deg"])
    if "xy" in asked:
        return hotelling(asked)
    if "reading" in asked:
        return first_harmonic(asked)
    if "height" in asked:
        return plane(asked)
    found = fit_circle(np.column_stack([asked["x"], asked["y"]]))
    return {
        "xc": found.x,
        "yc": found.y,
        "r": found.radius,
        "rss": found.residual @ found.residual,
        "peak_to_valley": found.out_of_round,
    }


def bearings(deg):
    found = directions(deg)
    toward_90 = v_test(deg, expected_deg=90.0)
    return {
        "n": found.n,
        "C": found.cos_sum,
        "S": found.sin_sum,
        "R": found.resultant,
        "mean_resultant": found.mean_resultant,
        "mean_direction_deg": found.mean_deg,
        "circular_variance": found.variance,
        "circular_sd_rad": found.sd_rad,
        "rayleigh_z": found.rayleigh_z,
        "p_series": found.p_series,
        "p_wilkie": found.p_wilkie,
        "p_exact": rayleigh_p_exact(deg),
        "V_about_90": toward_90.v,
        "u_about_90": toward_90.u,
    }


def hotelling(asked):
    found = mean_vector(asked["xy"], centre=asked["mu0"])
    return {
        "n": found.n,
        "mean": found.mean,
        "cov": found.covariance,
        "T2": found.t2,
        "F": found.f,
        "df": found.df,
        "p": found.p,
        "T2_crit_95": found.t2_limit,
    }


def first_harmonic(asked):
    # A step of sqrt 12 makes the dial's own uncertainty one: the covariance is the design's.
    found = fit_runout(asked["reading"], angles_deg=asked["angle_deg"], dial_step_mm=math.sqrt(12))
    off, residual = found.eccentricity, found.residual_mm
    freedom = residual.size - 3
    variance = residual @ residual / freedom if freedom else math.nan
    return {
        "mean": found.mean_mm,
        "a_cos": off.x_mm,
        "b_sin": off.y_mm,
        "eccentricity": off.amount_mm,
        "direction_deg": off.high_deg,
        "tir_from_fit": 2 * off.amount_mm,
        "tir_raw": found.tir_mm,
        "residuals": residual,
        "residual_peak_to_peak": np.ptp(residual),
        "resid_sd": math.sqrt(variance),
        "cov_ab": variance * found.covariance_mm2,
    }


def plane(asked):
    height, angle, radius = np.array(asked["height"]), asked["angle_deg"], asked["radius"]
    found = fit_gap(height, position_deg=angle)
    a, b = require_tilt(found)
    residual = height - gap_at(found, angle)
    return {
        "center_height": found.height_mm,
        "slope_x": a / radius,
        "slope_y": b / radius,
        "tilt_rad": math.atan(math.hypot(a, b) / radius),
        "high_point_deg": direction_deg(a, b),
        "edge_to_edge": found.side_to_side_mm,
        "residuals": residual,
        "flatness_pp": np.ptp(residual),
        "raw_range": np.ptp(height),
        "raw_mean": height.mean(),
    }
