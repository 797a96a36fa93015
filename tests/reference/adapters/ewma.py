from qc.numerics.charts import ewma_chart
from qc.numerics.run_length import ewma_arl, ewma_width
from tests.reference.adapters.counting import from_one


def answer(case):
    asked = case.inputs
    if "x" in asked:
        return chart(asked)
    weight, steady = asked["lambda"], "asymptotic" in asked["limits"]
    if "arl0" in asked:
        return {"L": ewma_width(asked["arl0"], weight=weight, steady_limits=steady)}
    return {
        "arl": [
            ewma_arl(asked["L"], weight=weight, shift=shift, steady_limits=steady)
            for shift in asked["shift_sigma"]
        ]
    }


def chart(asked):
    settings = {
        "centre": asked["target"],
        "sigma": asked["sigma"],
        "weight": asked["lambda"],
        "width": asked["L"],
    }
    widening = ewma_chart(asked["x"], **settings)
    steady = ewma_chart(asked["x"], **settings, steady_limits=True)
    return {
        "z": widening.z,
        "half_width": widening.half_width,
        "asymptotic_limits": [steady.lower[-1], steady.upper[-1]],
        "signals_time_varying": from_one(widening.signal),
        "signals_asymptotic": from_one(steady.signal),
    }
