import math

import numpy as np

from qc.numerics.local_level import fit_local_level, local_level


def answer(case):
    asked = case.inputs
    y = np.array(asked["y"], dtype=float)
    if "var_eps" not in asked:
        fit = fit_local_level(y)
        return {"var_eps": fit.var_noise, "var_eta": fit.var_step} | both(fit.log_likelihood)
    found = local_level(y, var_noise=asked["var_eps"], var_step=asked["var_eta"])
    lowest = int(np.nanargmin(found.jump))
    return both(found.log_likelihood) | {
        "filtered": found.level,
        "filtered_var": found.level_var,
        "innovation": found.innovation,
        "innovation_var": found.innovation_var,
        "smoothed": found.smooth,
        "smoothed_var": found.smooth_var,
        "aux_observation": found.stray,
        "aux_level": found.jump,
        "forecast": found.forecast,
        "forecast_level_var": found.forecast_var,
        "most_negative_level_shift_between": [lowest + 1, lowest + 2],
        "min_aux_level": found.jump[lowest],
        "most_extreme_observation": int(np.nanargmax(np.abs(found.stray))) + 1,
    }


def both(log_likelihood):
    """With and without the first reading's constant."""
    first = -0.5 * math.log(2 * math.pi)
    return {
        "loglik_diffuse": log_likelihood,
        "loglik_with_first_constant": log_likelihood + first,
    }
