from dataclasses import asdict

from qc.numerics.constants import chart_constants


def answer(case):
    return asdict(chart_constants(case.inputs["n"]))
