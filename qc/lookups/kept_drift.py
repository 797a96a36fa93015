"""The shop's drift watch as it is stored and stepped, and the flags it stands by.

One chart for the whole shop: every measured round is a job of it. Services come between the jobs
at their times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import datetime
from typing import Any, Literal, NamedTuple

from qc.lookups.drift_jobs import DriftJob, as_row, drift_jobs, services_after
from qc.lookups.kept_charts import Place
from qc.models import ChartKind, ShopPolicy
from qc.numerics.drift import Budget, Event, Flag, Watch
from qc.numerics.drift.saving import restored, saved, sums_mark


class Done(NamedTuple):
    """Something that sets a resource right, or finds it in order. what: as numerics' Event."""

    at: datetime
    kind: str
    key: int
    what: Literal["serviced", "checked"]


class DriftKept:
    """The watch over all resources. What it assumes goes into its state: other assumptions mean
    that it is stepped again from nothing."""

    kind = ChartKind.DRIFT
    key = "shop"

    def __init__(self, policy: ShopPolicy | None = None) -> None:
        policy = policy or ShopPolicy.objects.order_by("-pk").first() or ShopPolicy()
        self.budget = Budget(float(policy.false_flags_per_season), float(policy.season_jobs))
        self._done: list[Done] = []
        self._live: tuple[str, Watch] | None = None

    def assumed(self) -> dict[str, Any]:
        return {
            "sums": sums_mark(),
            "false_flags": self.budget.false_flags,
            "season_jobs": self.budget.jobs,
        }

    def fresh(self) -> dict[str, Any]:
        watch = saved(Watch(budget=self.budget))
        return {**self.assumed(), "at": None, "edge_jobs": {}, "standing": [], "watch": watch}

    def is_current(self, state: dict[str, Any]) -> bool:
        """Whether the state rests on what is assumed now."""
        return all(state.get(name) == value for name, value in self.assumed().items())

    def read(self, after: Place | None) -> Iterator[DriftJob]:
        self._done = done_after(None if after is None else after.at)
        return drift_jobs(after)

    def step(self, state: dict[str, Any], job: DriftJob) -> tuple[dict[str, Any], list[Flag]]:
        at = job.place.at
        done = self._between(state["at"], at)
        over = {(one.kind, one.key) for one in done}
        edge_jobs = {
            key: count
            for key, count in state["edge_jobs"].items()
            if ("edge", int(key)) not in over
        }
        edge = str(job.edge_id)
        watch = self.watch_of(state)
        raised = watch.take(
            as_row(job, edge_jobs=edge_jobs.get(edge, 0)),
            events=[Event(0, one.kind, one.key, one.what) for one in done],
        )
        if job.edge_id is not None:
            edge_jobs[edge] = edge_jobs.get(edge, 0) + 1
        standing = [one for one in state["standing"] if (one["kind"], one["key"]) not in over]
        standing += [_told(flag, job) for flag in raised]
        text = saved(watch)
        self._live = (text, watch)
        return {
            **state,
            "at": at.isoformat(),
            "edge_jobs": edge_jobs,
            "standing": standing,
            "watch": text,
        }, raised

    def watch_of(self, state: dict[str, Any]) -> Watch:
        """The watch of a state; the one in hand where it is the one just stepped."""
        if self._live is not None and self._live[0] is state["watch"]:
            return self._live[1]
        return restored(state["watch"], budget=self.budget)

    def standing(self, state: dict[str, Any]) -> list[dict[str, Any]]:
        """The flags the watch stands by: nothing was done about them since its newest job."""
        if state["at"] is None:
            return []
        since = datetime.fromisoformat(state["at"])
        over = {(one.kind, one.key) for one in self._done if one.at > since}
        return [one for one in state["standing"] if (one["kind"], one["key"]) not in over]

    def _between(self, before: str | None, at: datetime) -> list[Done]:
        """What was done after the job before this one and not after this one."""
        if before is None:
            return []
        since = datetime.fromisoformat(before)
        return [one for one in self._done if since < one.at <= at]


def done_after(after: datetime | None) -> list[Done]:
    """What was done to resources after a time, in order."""
    return [Done(at, kind, key, "serviced") for at, kind, key in services_after(after)]


def _told(flag: Flag, job: DriftJob) -> dict[str, Any]:
    """A flag as it is kept: which resource, raised at which round, and what was known then."""
    likeliest = flag.likeliest
    return {
        "channel": flag.channel,
        "kind": likeliest.kind,
        "key": likeliest.resource,
        "round": job.round_id,
        "suspects": [[one.kind, one.resource, one.probability] for one in flag.suspects],
        "evidence": flag.log_evidence,
        "threshold": flag.threshold,
        "move": asdict(flag.move),
    }
