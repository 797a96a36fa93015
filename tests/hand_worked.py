"""One job worked by hand, for every way of recording it: operations, pages, the API.

Alder 46, target 0.50 +0.05 -0.05, floor 0.42, base gasket 0.50 before and after, all in mm. As
found 1.02, 1.03, 1.02, 1.01 at 0, 90, 180 and 270 degrees: mean 1.02. Touch-off at 2.00, last pass
at 2.52: 0.52 off, so 0.50 predicted. Achieved 0.50, 0.51, 0.50, 0.49: mean 0.50, A = (0.50 - 0.50)
/ 2 = 0, B = (0.51 - 0.49) / 2 = 0.01, so the gap is widest toward 90 degrees and tightest at 0.50 -
0.01.
"""

from __future__ import annotations

import pytest

from qc.models import JobResult, VerdictKind

FOUND = ("1.02", "1.03", "1.02", "1.01")
TOUCH_OFF = "2.00"
PASSES = ("2.25", "2.52")
ACHIEVED = ("0.50", "0.51", "0.50", "0.49")


def assert_hand_worked(result: JobResult) -> None:
    found = {
        "height": result.height_mm,
        "predicted": result.predicted_mm,
        "height error": result.height_error_mm,
        "target error": result.target_error_mm,
        "A": result.tilt_cos_mm,
        "B": result.tilt_sin_mm,
        "tightest": result.tightest_mm,
    }
    assert found == pytest.approx(
        {
            "height": 0.50,
            "predicted": 0.50,
            "height error": 0.0,
            "target error": 0.0,
            "A": 0.0,
            "B": 0.01,
            "tightest": 0.49,
        },
        abs=1e-12,
    )
    assert str(result.depth_cut_mm) == "0.520000"
    assert result.verdict == VerdictKind.ACCEPT
