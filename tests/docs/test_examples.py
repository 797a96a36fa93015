"""The Python that DEVELOPERS.md shows runs as it stands, on a simulated shop."""

import re
from pathlib import Path

from tests.drift.shop import Change, season

DEVELOPERS = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"


def test_the_drift_examples_find_a_knock_and_weigh_the_next_job():
    one = season(9, n=200, change=Change("fixture", 0.060, earliest=60, latest=90))
    told = one.jobs
    names = {
        "n": len(told),
        "fixture": told.fixture,
        "operator": told.operator,
        "lathe": told.lathe,
        "edge": told.edge,
        "gauge": told.gauge_achieved,
        "clocking": told.clocking_deg,
        "found": told.tilt_found_mm,
        "achieved": told.tilt_achieved_mm,
        "error": told.height_error_mm,
        "jobs_the_edge_has_done": told.edge_jobs,
        "spread": told.spread_mm,
        "df": told.spread_df,
    }
    examples = re.findall(r"```python\n(.*?)```", DEVELOPERS.read_text("utf-8"), re.DOTALL)
    assert len(examples) == 2
    for example in examples:
        exec(example, names)
    found = {(flag.likeliest.kind, flag.likeliest.resource) for flag in names["flags"]}
    assert one.changed in found
    assert 0 < names["chance"] < 1
    assert names["advice"].jobs_planned == 20
