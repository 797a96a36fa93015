from qc.numerics.self_starting import q_dispersion, q_statistics, self_starting_cusum
from tests.reference.adapters.counting import from_one


def answer(case):
    asked = case.inputs
    if "h" in asked:
        chart = self_starting_cusum(asked["x"], k=asked["k"], h=asked["h"]).chart
        return {
            "c_plus": chart.high,
            "c_minus": chart.low,
            "signals": from_one(chart.signal),
        }
    if case.id.startswith("q_dispersion"):
        return {"q": q_dispersion(asked["x"])}
    return {"q": q_statistics(asked["x"], mean=asked.get("mean"), sigma=asked.get("sigma"))}
