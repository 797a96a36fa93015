"""The shop's drift watch as it is stored and stepped, and the flags it stands by.

One chart for the whole shop: every measured round is a job of it. Services come between the jobs
at their times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from qc.lookups.charts.kept_charts import Place, place_of
from qc.lookups.watch.done import IN_SHOP, Done, done_after, is_renewed
from qc.lookups.watch.drift_jobs import DriftJob, as_row, drift_jobs
from qc.lookups.watch.drift_pace import (
    FRESH,
    budget_at,
    one_more,
)
from qc.lookups.watch.own_jobs import on_own_jobs
from qc.models import ChartKind, ShopPolicy, StoredChart
from qc.numerics.drift import Budget, Move, Suspect, Watch, jobs
from qc.numerics.drift import Flag as Raised
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.saving import restored, saved, sums_mark
from qc.numerics.drift.suspects import move_of, suspects_of


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
        self._policies: dict[int, ShopPolicy] = {}

    def fresh(self) -> dict[str, Any]:
        watch = saved(Watch(budget=Budget()))
        return {
            "sums": sums_mark(),
            "at": None,
            "pace": dict(FRESH),
            "edge_jobs": {},
            "standing": [],
            "watch": watch,
        }

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
        fresh = {one.key for one in done if one.kind == "edge" and is_renewed(one)}
        edge_jobs = {
            key: count for key, count in state["edge_jobs"].items() if int(key) not in fresh
        }
        edge = str(job.edge_id)
        policy = self._policy(job.told["policy_id"])
        last = None if state["at"] is None else datetime.fromisoformat(state["at"])
        pace = one_more(state["pace"], policy, last=last, at=at)
        watch = self.watch_of(state)
        watch.budget = budget_at(pace, policy)
        raised = watch.take(
            as_row(job, edge_jobs=edge_jobs.get(edge, 0)),
            events=[one.before(0) for one in done],
        )
        if job.edge_id is not None:
            edge_jobs[edge] = edge_jobs.get(edge, 0) + 1
        standing = [
            told
            for told in [*state["standing"], *(_told(flag, job) for flag in raised)]
            if _stands(watch, told)
        ]
        return {
            **state,
            "at": at.isoformat(),
            "pace": pace,
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
        if done:
            # The state itself comes to these with its next job.
            watch = restored(saved(watch), budget=watch.budget)
            watch.take(jobs(0), events=[one.before(0) for one in done])
        believed = []
        for told in state["standing"]:
            if not _stands(watch, told):
                continue
            story = watch.channels[told["channel"]].story(told["kind"], told["key"])
            suspects = suspects_of(story.state, story.arrays, story.keys)
            # Where everything it suspected was put right, nothing is left to stand by.
            if suspects:
                believed.append(_as_believed(story, told, suspects))
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

    def _policy(self, policy_id: int) -> ShopPolicy:
        """The one in force when a job was judged, so that the past stays as it was."""
        if policy_id not in self._policies:
            self._policies[policy_id] = ShopPolicy.objects.get(pk=policy_id)
        return self._policies[policy_id]

    def _between(self, before: str | None, at: datetime) -> list[Done]:
        """What was done after the job before this one and not after this one."""
        if before is None:
            return []
        since = datetime.fromisoformat(before)
        return [one for one in self._done if since < one.at <= at]


def _stands(watch: Watch, told: dict[str, Any]) -> bool:
    """Whether the watch stands by this flag of a state still."""
    channel = watch.channels[told["channel"]]
    return any(channel.keys[flag.place] == (told["kind"], told["key"]) for flag in channel.open)


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


def _as_believed(
    story: ChannelWatch, told: dict[str, Any], suspects: tuple[Suspect, ...]
) -> Standing:
    about = (told["kind"], told["key"])
    is_suspected = about in {(one.kind, one.resource) for one in suspects}
    moved = about if is_suspected else (suspects[0].kind, suspects[0].resource)
    return Standing(
        channel=told["channel"],
        kind=IN_SHOP.get(told["kind"], told["kind"]),
        key=told["key"],
        round_id=told["round"],
        evidence=told["evidence"],
        threshold=told["threshold"],
        suspects=tuple(
            {
                "kind": IN_SHOP.get(one.kind, one.kind),
                "key": one.resource,
                "probability": one.probability,
                "by_jobs": one.by_jobs,
            }
            for one in suspects
        ),
        move=move_of(story.state, story.held_at(story.keys.index(moved)), story.arrays),
    )
