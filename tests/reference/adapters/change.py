from qc.numerics.trend import (
    find_levels,
    mann_kendall,
    ols_cusum,
    recursive_cusum,
    recursive_residuals,
    sup_f,
    theil_sen,
)


def answer(case):
    asked = case.inputs
    if "t" in asked:
        time = asked["t"] if isinstance(asked["t"], list) else None
        return drift(asked["x"], time)
    if "trim" in asked:
        return breaks(asked)
    found = recursive_cusum(asked["x"])
    return {
        "recursive_residuals": recursive_residuals(asked["x"]),
        "rec_cusum_process": found.process,
        "rec_cusum_stat": found.statistic,
        "rec_cusum_p": found.p,
    }


def drift(x, time):
    rank, line = mann_kendall(x, time=time), theil_sen(x, time=time)
    return {
        "S": rank.s,
        "var_S": rank.variance,
        "z": rank.z,
        "p": rank.p,
        "tau_b": rank.tau_b,
        "theil_sen": line.slope,
        "intercept_median": line.intercept,
        "slope_ci95": line.slope_interval,
    }


def breaks(asked):
    x, trim = asked["x"], asked["trim"]
    found = find_levels(x, trim=trim, most_breaks=asked["max_breaks"])
    one, whole = sup_f(x, trim=trim), ols_cusum(x)
    chosen = [one.last_before + 1 for one in found.breaks]
    intervals = [
        [found.earliest + 1, found.last_before + 1, found.latest + 1] for found in found.breaks
    ]
    return {
        "one_break_last_index_of_first_segment": found.candidates[1][0] + 1,
        "rss_one_break": found.rss[1],
        "rss_by_breaks": found.rss,
        "bic_by_breaks": found.bic,
        "bic_breaks": chosen[0] if len(chosen) == 1 else chosen,
        "means": found.mean,
        "ci95": intervals,
        "supF": one.f,
        "supF_at": one.last_before + 1,
        "ols_cusum": {"stat": whole.statistic, "at": whole.at + 1, "p": whole.p},
        "two_breaks": [last + 1 for last in found.candidates[2]],
    }
