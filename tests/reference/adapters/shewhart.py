import numpy as np

from qc.numerics.charts import (
    between_within,
    deviations,
    group_chart,
    individuals_chart,
    individuals_limits,
    pooled_sd,
)
from qc.numerics.moments import moments, one_way
from tests.reference.adapters.counting import from_one


def answer(case):
    asked = case.inputs
    if "x" in asked:
        return individuals(asked["x"]) | unit(asked["x"])
    if "achieved" in asked:
        dev = deviations(asked["achieved"], target=asked["target"])
        return individuals(dev) | {"dev": dev}
    groups = asked.get("groups", asked.get("subgroups"))
    if "groups" in asked:
        return table(groups)
    anova = {f"anova_{name}": value for name, value in table(groups).items()}
    return averages(groups) | three_charts(groups) | anova


def individuals(x):
    chart = individuals_chart(x)
    limits = chart.limits
    return {
        "n": limits.jobs,
        "center": limits.centre,
        "mr_bar": limits.moving_range_mean,
        "sigma": limits.sigma,
        "ucl": limits.upper,
        "lcl": limits.lower,
        "mr_ucl": limits.moving_range_upper,
        "mr_lcl": 0.0,
        "mr": chart.moving_range[1:],
        "beyond": from_one(chart.beyond),
        "mr_beyond": from_one(chart.moving_range_beyond[1:]),
        "median_mr": np.median(chart.moving_range[1:]),
        "sigma_median_mr": individuals_limits(x, spread="median").sigma,
    }


def unit(x):
    found = moments(x)
    return {"mean": found.mean, "sd": found.sd, "lag1": found.lag1}


def table(groups):
    found = one_way(groups)
    return {
        "ss_between": found.ss_between,
        "df_between": found.df_between,
        "ms_between": found.ms_between,
        "ss_within": found.ss_within,
        "df_within": found.df_within,
        "ms_within": found.ms_within,
        "F": found.f,
        "p": found.p,
        "r2": found.r2,
        "resid_sd": found.sd_within,
        "var_between": found.var_between,
    }


def averages(groups):
    by_range, by_sd = group_chart(groups), group_chart(groups, spread="sd")
    return {
        "m": by_range.limits.groups,
        "n": int(by_range.size[0]),
        "center": by_range.limits.centre,
        "r_bar": by_range.limits.spread_mean,
        "s_bar": by_sd.limits.spread_mean,
        "sigma_r": by_range.limits.sigma,
        "sigma_s": by_sd.limits.sigma,
        "pooled_sd": pooled_sd(groups),
        "xbar_r": [by_range.lower[0], by_range.upper[0]],
        "xbar_s": [by_sd.lower[0], by_sd.upper[0]],
        "r_limits": [by_range.spread_lower[0], by_range.spread_upper[0]],
        "s_limits": [by_sd.spread_lower[0], by_sd.spread_upper[0]],
        "beyond_xbar_r": from_one(by_range.beyond),
        "beyond_r": from_one(by_range.spread_beyond),
        "beyond_xbar_s": from_one(by_sd.beyond),
        "beyond_s": from_one(by_sd.spread_beyond),
    }


def three_charts(groups):
    found = between_within(groups)
    means = found.means.limits
    return {
        "mr_bar_of_means": means.moving_range_mean,
        "means_limits": [means.lower, means.upper],
        "mr_ucl": means.moving_range_upper,
        "sigma_within_r": found.sigma_within,
        "sigma_of_means_mr": means.sigma,
        "sigma_between": found.sigma_between,
        "between_clipped_at_zero": found.between_is_clipped,
        "sigma_between_within": found.sigma_total,
        "ordinary_xbar_r_limits": [found.within.lower[0], found.within.upper[0]],
        "beyond_ordinary": from_one(found.within.beyond),
        "beyond_three_way": from_one(found.means.beyond),
    }
