"""From a case's inputs to the figures it names, one module a topic, each with `answer(case)`.

An adapter only renames and counts from one; the sums are those of `qc.numerics`. It may answer more
than a case asks for.
"""

from tests.reference.adapters import (
    capability,
    change,
    circular,
    constants,
    cusum,
    ewma,
    gauge,
    level,
    rules,
    self_starting,
    shewhart,
    uncertainty,
)

ADAPTERS = {
    "t01_constants": constants.answer,
    "t02_shewhart": shewhart.answer,
    "t03_ewma": ewma.answer,
    "t04_cusum": cusum.answer,
    "t05_runrules": rules.answer,
    "t06_selfstarting": self_starting.answer,
    "t07_capability": capability.answer,
    "t08_gauge": gauge.answer,
    "t09_uncertainty": uncertainty.answer,
    "t10_circular": circular.answer,
    "t11_change": change.answer,
    "t12_locallevel": level.answer,
}
