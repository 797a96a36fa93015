from qc.numerics.capability import (
    capability,
    capability_indices,
    cp_interval,
    cpk_interval,
    cpk_lower_bound,
    cpk_lower_bound_exact,
    howe_factor,
    one_sided_factor,
    two_sided_factor,
)


def answer(case):
    asked = case.inputs
    if "coverage" in asked:
        return factors(asked)
    if "x" in asked:
        return record(asked)
    if "cpk" in asked:
        return cpk_bounds(asked["cpk"], asked)
    if "mean" in asked:
        return indices(asked)
    cp = (asked["usl"] - asked["lsl"]) / (6 * asked["s"])
    return {"cp": cp, "cp_ci": cp_interval(cp, **sample(asked))}


def sample(asked):
    return {"df": asked["n"] - 1, "confidence": asked["confidence"]}


def cpk_bounds(cpk, asked):
    settings = {"n": asked["n"], "confidence": asked["confidence"]}
    return {
        "cpk_ci_normal": cpk_interval(cpk, **settings),
        "cpk_lower_one_sided": cpk_lower_bound(cpk, **settings),
        "cpk_exact_one_sided_lower": cpk_lower_bound_exact(cpk, **settings),
    }


def indices(asked):
    found = capability_indices(
        mean=asked["mean"],
        sd=asked["sd"],
        lower=asked["lsl"],
        upper=asked["usl"],
        target=asked.get("target"),
    )
    answers = {name: getattr(found, name) for name in ("cp", "cpu", "cpl", "cpk", "cpm")}
    if "n" in asked:
        answers |= cpk_bounds(found.cpk, asked)
        if found.cp is not None:
            answers["cp_ci"] = cp_interval(found.cp, **sample(asked))
    return answers


def record(asked):
    found = capability(
        asked["x"],
        lower=asked["lsl"],
        upper=asked["usl"],
        target=asked.get("target"),
        confidence=asked["confidence"],
        even_if_unsteady=True,
    )
    return {
        "mean": found.mean,
        "sd": found.sd,
        "pp": found.overall.cp,
        "pp_ci": found.pp_interval,
        "ppk": found.overall.cpk,
        "ppk_ci_normal": found.ppk_interval,
        "ppu": found.overall.cpu,
        "ppl": found.overall.cpl,
        "cpm": found.overall.cpm,
        "sigma_mr": found.sigma,
        "cp_mr": found.short.cp,
        "cpk_mr": found.short.cpk,
    }


def factors(asked):
    n, confidence, coverage = asked["n"], asked["confidence"], asked["coverage"]
    if isinstance(coverage, list):
        each = [two_sided_factor(n, coverage=p, confidence=confidence) for p in coverage]
        return {"k_two_sided_exact": each}
    settings = {"coverage": coverage, "confidence": confidence}
    return {
        "k_one_sided": one_sided_factor(n, **settings),
        "k_two_sided_exact": two_sided_factor(n, **settings),
        "k_two_sided_howe": howe_factor(n, **settings),
    }
