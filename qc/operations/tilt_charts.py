"""The fixtures' tilt charts, brought up to date. They are looked at; flags come of the watch."""

from __future__ import annotations

from qc.lookups.charts.fixture_chart import flag_limit, stored_noise
from qc.lookups.charts.kept_charts import Place
from qc.lookups.charts.kept_tilts import TiltKept
from qc.models import Fixture
from qc.operations.stored_charts import bring_up, lock, rebuild, save


def follow_fixture(fixture: Fixture, *, since: Place | None = None) -> None:
    """Step the fixture's chart through every job it does not have yet; all of them again where its
    limit or its noise is another. since: a place in the past from which something changed."""
    kept = TiltKept(fixture, limit=flag_limit(), noise_sd_mm=stored_noise())
    [row] = lock([kept])
    if any(row.state[name] != kept.fresh()[name] for name in ("limit", "noise_sd_mm")):
        rebuild(kept)
        return
    bring_up(kept, since=since, chart=row)
    save([row])


def rebuild_fixture(fixture: Fixture) -> None:
    """Step the fixture's chart from nothing."""
    rebuild(TiltKept(fixture, limit=flag_limit(), noise_sd_mm=stored_noise()))
