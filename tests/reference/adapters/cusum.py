from qc.numerics.charts import cusum_chart
from qc.numerics.run_length import cusum_arl, cusum_limit, siegmund_arl
from tests.reference.adapters.counting import from_one


def answer(case):
    asked = case.inputs
    if "x" in asked:
        return chart(asked)
    if "arl0" in asked:
        return {"h": cusum_limit(asked["arl0"], k=asked["k"], sides=asked["sides"])}
    k, h, shift = asked["k"], asked["h"], asked["shift_sigma"]
    if isinstance(shift, list):
        settings = {"k": k, "h": h, "head_start": asked["head_start"], "sides": asked["sides"]}
        return {"arl": [cusum_arl(shift=one, **settings) for one in shift]}
    upper, lower = siegmund_arl(k=k, h=h, shift=shift), siegmund_arl(k=k, h=h, shift=-shift)
    return {
        "one_sided_upper": upper,
        "one_sided_lower": lower,
        "two_sided": 1 / (1 / upper + 1 / lower),
        "exact_two_sided": cusum_arl(k=k, h=h, shift=shift),
    }


def chart(asked):
    names = ("target", "sigma", "k", "h", "head_start")
    found = cusum_chart(asked["x"], **{name: asked[name] for name in names if name in asked})
    return {
        "c_plus": found.high,
        "c_minus": found.low,
        "n_plus": found.high_run,
        "n_minus": found.low_run,
        "signals": from_one(found.signal),
    }
