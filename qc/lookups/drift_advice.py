"""What to do about a flag: what running on costs, and what would tell the suspects apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from qc.lookups.drift_jobs import recent_rows
from qc.lookups.flags import NAMED_AT, FlagLine
from qc.lookups.kept_charts import stored
from qc.lookups.kept_drift import IN_WATCH, DriftKept
from qc.lookups.shop import shop_policy
from qc.models import DriftChannel, Fixture, Flag, Gauge, Person, Recommended, ToolEdge
from qc.numerics.drift import Suspect, Watch
from qc.numerics.drift.decision import Advice, Costs, advise
from qc.numerics.drift.excess import excess_ahead
from qc.numerics.drift.miss import QUARTERS, NextJob
from qc.numerics.drift.separating import best_trial, every_job

# So many of the fixture's next jobs are looked at, and its last ones say how it is clocked.
JOBS_AHEAD = 20
CLOCKINGS_OF = 12
# A job that hardly ever tells two apart is no advice.
LEAST_SETTLED = 0.01
REFERENCE_RADIUS_MM = 20.0


@dataclass(frozen=True)
class TrialLine:
    """The one next job or check that would tell the two leading suspects apart best.

    uses: what the job would be made with, in words; empty for one cylinder measured with both
    gauges. settles: probability that one of the two is then likely enough to be named.
    """

    uses: Sequence[tuple[str, str]]
    gauges: tuple[str, str] | None
    settles: float

    @property
    def percent(self) -> int:
        return round(100 * self.settles)


def watch_now() -> Watch | None:
    """The shop's watch as it is kept; None before the first job."""
    kept = DriftKept()
    row = stored(kept)
    if row is None or row.at is None or not kept.is_current(row.state):
        return None
    return kept.watch_of(row.state)


def recommended(flag: Flag, watch: Watch) -> tuple[Recommended, dict[str, Any]]:
    """What to do about a flag, and the figures that rests on."""
    first = flag.suspects[0]
    figures: dict[str, Any] = {
        "channel": flag.channel,
        "size": flag.size,
        "suspects": flag.suspects,
        "statistic": flag.statistic,
        "limit": flag.limit,
    }
    if first["kind"] != "fixture" or (first["probability"] or 0.0) < NAMED_AT:
        return Recommended.CHECK_FIRST, figures
    advice = fixture_advice(first["key"], watch, is_flagged=True)
    figures |= {**asdict(advice), "minutes_to_reindicate": shop_policy().reindicating_minutes}
    return Recommended(advice.what), figures


def fixture_advice(fixture: int, watch: Watch, *, is_flagged: bool) -> Advice:
    """For the fixture's next jobs, clocked as its last ones were, in the shop's own costs."""
    policy = shop_policy()
    rows = recent_rows(CLOCKINGS_OF, fixture=fixture)
    radius = float(rows[0]["measuring_radius_mm"]) if rows else REFERENCE_RADIUS_MM
    clockings = tuple(
        float(one["round__clocking_deg"]) for one in rows if one["round__clocking_deg"] is not None
    )
    excess = excess_ahead(
        watch.channels["tilt"],
        NextJob(fixture=fixture, radius_mm=radius),
        jobs=JOBS_AHEAD,
        limit_mm=float(policy.evenness_limit_mm) * REFERENCE_RADIUS_MM / radius,
        **({"clocking_deg": clockings} if clockings else {}),
    )
    minutes = float(policy.reindicating_minutes)
    costs = Costs(miss=minutes * float(policy.miss_in_reindications), reindication=minutes)
    return advise(excess, costs=costs, is_flagged=is_flagged)


def advice_on(line: FlagLine, watch: Watch) -> Advice | None:
    """For a flag that names a fixture; None for any other."""
    if line.named is None or line.named.kind != "fixture" or line.named.key is None:
        return None
    return fixture_advice(line.named.key, watch, is_flagged=True)


def telling_apart(line: FlagLine, watch: Watch) -> TrialLine | None:
    """The best next job or check for the set of suspects; None where one is named, or no job of
    what the shop has in use is likely to tell them apart."""
    told = line.flag.suspects
    if line.named is not None or len(told) < 2:
        return None
    suspects = [
        Suspect(IN_WATCH.get(one["kind"], one["kind"]), one["key"], one["probability"])
        for one in told
    ]
    channel = watch.channels[line.channel]
    in_use = _in_use(DriftChannel(line.channel))
    free: dict[str, Any] = {name: rows for name, rows in in_use.items() if rows}
    lathes = dict(ToolEdge.objects.values_list("pk", "lathe")) if "edge" in free else None
    possible = every_job(line.channel, lathe_of=lathes, **free)
    trial = best_trial(
        channel, suspects, possible=possible, gauges=in_use.get("gauge_achieved", ())
    )
    if trial is None or trial.settles < LEAST_SETTLED:
        return None
    if trial.gauges is not None:
        first, second = (Gauge.objects.get(pk=pk).name for pk in trial.gauges)
        return TrialLine((), (first, second), trial.settles)
    assert trial.row is not None
    uses = [
        (WORDS[name], _name(name, float(getattr(possible, name)[trial.row])))
        for name in free
        if name != "operator" or not _is_hidden(line)
    ]
    return TrialLine(uses, None, trial.settles)


WORDS = {
    "fixture": "fixture",
    "clocking_deg": "clocking",
    "operator": "measured by",
    "edge": "tool edge",
    "gauge_achieved": "gauge",
}
MODELS: dict[str, Any] = {
    "fixture": Fixture,
    "operator": Person,
    "edge": ToolEdge,
    "gauge_achieved": Gauge,
}


def _is_hidden(line: FlagLine) -> bool:
    """Whether the set holds a person whose name this reader may not see."""
    return any(one.key is None for one in line.suspects)


def _name(column: str, value: float) -> str:
    if column == "clocking_deg":
        return f"{value:.0f}\N{DEGREE SIGN}"
    return str(MODELS[column].objects.get(pk=int(value)).name)


def _in_use(channel: DriftChannel) -> dict[str, list[Any]]:
    """What the next job can be made with."""
    people = list(Person.objects.filter(is_active=True).values_list("pk", flat=True))
    gauges = list(Gauge.objects.filter(retired_at=None).values_list("pk", flat=True))
    if channel == DriftChannel.TILT:
        fixtures = Fixture.objects.filter(retired_at=None).values_list("pk", flat=True)
        return {"fixture": list(fixtures), "clocking_deg": list(QUARTERS), "operator": people}
    if channel == DriftChannel.SPREAD:
        return {"operator": people, "gauge_achieved": gauges}
    edges = ToolEdge.objects.filter(retired_at=None).values_list("pk", flat=True)
    return {"edge": list(edges), "operator": people, "gauge_achieved": gauges}
