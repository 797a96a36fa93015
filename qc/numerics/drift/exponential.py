"""exp for compiled loops: a polynomial and a table, worked out for several numbers at once where a
call to the library's exp is not. Half of what a job costs was such calls."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np

from qc.numerics.drift.jit import compiled

# Numbers further from 0 than this are taken as just this far: e^709 is about the largest float.
FURTHEST = 700.0
_LOG2_E = 1.0 / math.log(2.0)
# log(2) in two parts: a whole multiple of the first, up to a thousand, is exact.
_LOG_2 = float(np.float32(math.log(2.0)))
_LOG_2_REST = float(Decimal("0.693147180559945309417232121458") - Decimal(_LOG_2))
_LEAST = -1020
_POWERS = 2.0 ** np.arange(_LEAST, 1021)
_C2, _C3, _C4, _C5, _C6, _C7, _C8, _C9, _C10, _C11, _C12 = (
    1.0 / math.factorial(k) for k in range(2, 13)
)


@compiled
def exp(x: float) -> float:
    """e to the x, to within 4e-16 of it: 2^k times the Taylor sum about 0 to the 12th power."""
    x = min(max(x, -FURTHEST), FURTHEST)
    k = math.floor(x * _LOG2_E + 0.5)
    r = (x - k * _LOG_2) - k * _LOG_2_REST
    high = _C7 + r * (_C8 + r * (_C9 + r * (_C10 + r * (_C11 + r * _C12))))
    low = 1.0 + r * (1.0 + r * (_C2 + r * (_C3 + r * (_C4 + r * (_C5 + r * (_C6 + r * high))))))
    return low * _POWERS[int(k) - _LEAST]
