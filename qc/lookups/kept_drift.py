"""The shop's drift watch as it is stored and stepped, and the flags it stands by.

One chart for the whole shop: every measured round is a job of it. Services come between the jobs
at their times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal, NamedTuple

from qc.lookups.drift_jobs import DriftJob, as_row, drift_jobs, services_after
from qc.lookups.kept_charts import Place, place_of
from qc.lookups.own_jobs import on_own_jobs
from qc.models import ChartKind, Flag, FlagState, ShopPolicy, StoredChart
from qc.numerics.drift import Budget, Event, Move, Watch
from qc.numerics.drift import Flag as Raised
from qc.numerics.drift.saving import restored, saved, sums_mark
from qc.numerics.drift.suspects import move_of, probabilities, smallest_set
from qc.numerics.drift.watch import ChannelWatch

# The watch speaks of an operator where the shop's tables have a person.
IN_WATCH = {"person": "operator"}
IN_SHOP = {"operator": "person"}


class Done(NamedTuple):
    """Something that sets a resource right, or finds it in order. what, channel: as numerics'
    Event."""

    at: datetime
    kind: str
    key: int
    what: Literal["serviced", "checked"]
    channel: str | None = None

    def ends(self, told: dict[str, Any]) -> bool:
        """Whether the watch stands by this flag of a state no longer."""
        return (self.kind, self.key) == (told["kind"], told["key"]) and self.channel in (
            None,
            told["channel"],
        )

    def before(self, job: int) -> Event:
        return Event(job, self.kind, self.key, self.what, self.channel)


@dataclass(frozen=True)
class Standing:
    """A flag the watch stands by. kind and key: as in the shop's tables. suspects and move: as
    believed after the newest job; the rest as it was when round_id raised it."""

    channel: str
    kind: str
    key: int
    round_id: int
    evidence: float
    threshold: float
    suspects: tuple[dict[str, Any], ...]
    move: Move


class DriftKept:
    """The watch over all resources. What its sums assume goes into its state: other assumptions
    mean that it is stepped again from nothing."""

    kind = ChartKind.DRIFT
    key = "shop"

    def __init__(self) -> None:
        self._done: list[Done] = []
        self._budgets: dict[int, Budget] = {}

    def fresh(self) -> dict[str, Any]:
        watch = saved(Watch(budget=Budget()))
        return {"sums": sums_mark(), "at": None, "edge_jobs": {}, "standing": [], "watch": watch}

    def is_current(self, state: dict[str, Any]) -> bool:
        """Whether the state rests on what the sums assume now."""
        return bool(state["sums"] == sums_mark())

    def read(self, after: Place | None) -> Iterator[DriftJob]:
        self._done = done_after(None if after is None else after.at)
        return drift_jobs(after)

    def step(self, state: dict[str, Any], job: DriftJob) -> tuple[dict[str, Any], list[Raised]]:
        at = job.place.at
        done = self._between(state["at"], at)
        # An edge that was looked at and found in order is as worn as before.
        fresh = {one.key for one in done if one.kind == "edge" and _is_renewed(one)}
        edge_jobs = {
            key: count for key, count in state["edge_jobs"].items() if int(key) not in fresh
        }
        edge = str(job.edge_id)
        watch = self.watch_of(state)
        watch.budget = self._budget(job.told["policy_id"])
        raised = watch.take(
            as_row(job, edge_jobs=edge_jobs.get(edge, 0)),
            events=[one.before(0) for one in done],
        )
        if job.edge_id is not None:
            edge_jobs[edge] = edge_jobs.get(edge, 0) + 1
        standing = _not_ended(state["standing"], done)
        standing += [_told(flag, job) for flag in raised]
        return {
            **state,
            "at": at.isoformat(),
            "edge_jobs": edge_jobs,
            "standing": standing,
            "watch": watch,
        }, raised

    def written(self, state: dict[str, Any]) -> dict[str, Any]:
        """Writing the watch down costs several times what a job does."""
        watch = state["watch"]
        return {**state, "watch": saved(watch) if isinstance(watch, Watch) else watch}

    def watch_of(self, state: dict[str, Any]) -> Watch:
        """The watch of a state: the one in hand where it was just stepped, which changes with the
        next step."""
        watch = state["watch"]
        return watch if isinstance(watch, Watch) else restored(watch, budget=Budget())

    def standing(self, state: dict[str, Any]) -> list[Standing]:
        """The flags the watch stands by, as it believes now: nothing was done about them since its
        newest job."""
        if not state["standing"]:
            return []
        since = datetime.fromisoformat(state["at"])
        done = [one for one in self._done if one.at > since]
        watch = self.watch_of(state)
        believed = [
            _as_believed(watch.channels[one["channel"]], one)
            for one in _not_ended(state["standing"], done)
        ]
        chart = StoredChart.objects.only("jobs", "at", "result").get(kind=self.kind, key=self.key)
        newest = place_of(chart)
        assert newest is not None  # a flag stands
        return [
            replace(
                one,
                move=on_own_jobs(
                    one.move, kind=one.kind, key=one.key, of=chart.jobs, newest=newest
                ),
            )
            for one in believed
        ]

    def _budget(self, policy_id: int) -> Budget:
        """By the policy in force when a job was judged, so that the past stays as it was."""
        if policy_id not in self._budgets:
            policy = ShopPolicy.objects.get(pk=policy_id)
            self._budgets[policy_id] = Budget(
                float(policy.false_flags_per_season), float(policy.season_jobs)
            )
        return self._budgets[policy_id]

    def _between(self, before: str | None, at: datetime) -> list[Done]:
        """What was done after the job before this one and not after this one."""
        if before is None:
            return []
        since = datetime.fromisoformat(before)
        return [one for one in self._done if since < one.at <= at]


def _not_ended(standing: list[dict[str, Any]], done: list[Done]) -> list[dict[str, Any]]:
    return [told for told in standing if not any(one.ends(told) for one in done)]


def _is_renewed(done: Done) -> bool:
    """By a service of its own, or a cause found in it; not as one of several it could have been."""
    return done.what == "serviced" and done.channel is None


def done_after(after: datetime | None) -> list[Done]:
    """What was done to resources after a time, in order: services, and flags closed by hand."""
    services = [Done(at, kind, key, "serviced") for at, kind, key in services_after(after)]
    flags = Flag.objects.filter(state__in=(FlagState.CAUSE_FOUND, FlagState.NONE_FOUND))
    if after is not None:
        flags = flags.filter(closed_at__gt=after)
    closed = [one for flag in flags for one in _closed(flag)]
    return sorted([*services, *closed], key=lambda one: (*one[:4], one.channel or ""))


def _closed(flag: Flag) -> Iterator[Done]:
    """No cause in the likeliest says nothing of the other suspects. A cause found tells the whole
    story: whichever of them it lay in, what was believed of each on that channel is over."""
    if flag.closed_at is None:
        return
    about = (IN_WATCH.get(flag.about_kind, flag.about_kind), flag.about_id)
    is_found = flag.state == FlagState.CAUSE_FOUND
    yield Done(flag.closed_at, *about, "serviced" if is_found else "checked")
    for one in flag.suspects if is_found else ():
        other = (IN_WATCH.get(one["kind"], one["kind"]), one["key"])
        if other != about:
            yield Done(flag.closed_at, *other, "serviced", flag.channel)


def _told(flag: Raised, job: DriftJob) -> dict[str, Any]:
    """A flag as the state keeps it: which resource, raised at which round, by what evidence."""
    return {
        "channel": flag.channel,
        "kind": flag.likeliest.kind,
        "key": flag.likeliest.resource,
        "round": job.round_id,
        "evidence": flag.log_evidence,
        "threshold": flag.threshold,
    }


def _as_believed(channel: ChannelWatch, told: dict[str, Any]) -> Standing:
    arrays = channel.arrays
    chances = probabilities(channel.state, arrays)
    place = channel.keys.index((told["kind"], told["key"]))
    return Standing(
        channel=told["channel"],
        kind=IN_SHOP.get(told["kind"], told["kind"]),
        key=told["key"],
        round_id=told["round"],
        evidence=told["evidence"],
        threshold=told["threshold"],
        suspects=tuple(
            {
                "kind": IN_SHOP.get(channel.keys[one][0], channel.keys[one][0]),
                "key": channel.keys[one][1],
                "probability": float(chances[one]),
            }
            for one in smallest_set(chances)
        ),
        move=move_of(channel.state, place, arrays),
    )
