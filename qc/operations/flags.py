"""The life of a fixture's flag: raised by its chart, looked into, closed by hand or by service."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, ReasonNeeded
from qc.lookups.fixture_chart import fixture_chart, flag_limit, stored_noise
from qc.lookups.kept_charts import Place
from qc.lookups.kept_tilts import TiltKept
from qc.models import OPEN_FLAG, Fixture, FixtureFlag, FlagState, Role, Round, ServiceEvent
from qc.operations import journal
from qc.operations.stored_charts import bring_up, lock, rebuild, save
from qc.outbox import ask

FOUND = (FlagState.CAUSE_FOUND, FlagState.NONE_FOUND)


@transaction.atomic
def follow_fixture(
    fixture: Fixture, *, at: datetime, since: Place | None = None
) -> FixtureFlag | None:
    """Bring the fixture's chart up to date; raise a flag when it says that the fixture moved, and
    withdraw one that the chart no longer bears.

    One open flag a fixture: while one stands, further jobs raise no other. since: a place in the
    past from which something changed.
    """
    lock_fixture(fixture)
    has_moved = _bring_up(fixture, since=since)
    standing = fixture.flags.filter(state__in=OPEN_FLAG).first()
    if not has_moved:
        if standing is not None:
            _withdraw(standing, at=at)
        return None
    return standing or _raise(fixture, at=at)


def _bring_up(fixture: Fixture, *, since: Place | None) -> bool:
    kept = TiltKept(fixture, limit=flag_limit(), noise_sd_mm=stored_noise())
    [row] = lock([kept])
    if any(row.state[name] != kept.fresh()[name] for name in ("limit", "noise_sd_mm")):
        return kept.has_moved(rebuild(kept).state)
    learnt = bring_up(kept, since=since, chart=row)
    save([row])
    return kept.has_moved(learnt.state)


def rebuild_fixture(fixture: Fixture, *, at: datetime) -> FixtureFlag | None:
    """Step the fixture's chart from nothing, and let its flag follow."""
    rebuild(TiltKept(fixture, limit=flag_limit(), noise_sd_mm=stored_noise()))
    return follow_fixture(fixture, at=at)


def _raise(fixture: Fixture, *, at: datetime) -> FixtureFlag:
    chart = fixture_chart(fixture)
    change = chart.current_change
    assert change is not None  # the stored chart signalled in this stretch
    raised_by = Round.objects.select_related("job").get(pk=chart.jobs[change.signalled_at].round_id)
    flag = FixtureFlag.objects.create(
        fixture=fixture,
        raised_at=at,
        raised_by=raised_by,
        moved_at_id=chart.jobs[change.onset].round_id,
        side_to_side_mm=change.size_mm,
        wide_toward_deg=change.direction_deg,
        statistic=float(chart.statistic[change.signalled_at]),
        limit=chart.limit,
    )
    journal.note(
        None,
        "flag.raised",
        subject=flag,
        job=raised_by.job,
        at=at,
        after={
            "fixture": fixture.name,
            "side_to_side_mm": flag.side_to_side_mm,
            "wide_toward_deg": flag.wide_toward_deg,
        },
    )
    return flag


def lock_fixture(fixture: Fixture) -> None:
    """One writer at a time for a fixture's flags, held to the end of the transaction."""
    Fixture.objects.select_for_update().get(pk=fixture.pk)


def _withdraw(flag: FixtureFlag, *, at: datetime) -> None:
    FixtureFlag.objects.filter(pk=flag.pk).update(state=FlagState.WITHDRAWN, closed_at=at)
    journal.note(
        None,
        "flag.withdrawn",
        subject=flag,
        at=at,
        before={"state": flag.state, "statistic": flag.statistic, "limit": flag.limit},
        after={"state": FlagState.WITHDRAWN},
        why="The chart, with the readings and limits now in force, no longer shows a move.",
    )


@transaction.atomic
def look_into(*, flag: FixtureFlag, by: Actor, at: datetime) -> FixtureFlag:
    """Say that someone is looking at the fixture."""
    by.must_be(Role.OPERATOR, to="look into a flag")
    moved = FixtureFlag.objects.filter(pk=flag.pk, state=FlagState.RAISED).update(
        state=FlagState.LOOKED_INTO
    )
    if not moved:
        raise BadInput(why="That flag is not waiting to be looked into.")
    journal.note(
        by, "flag.looked_into", subject=flag, at=at, after={"state": FlagState.LOOKED_INTO}
    )
    flag.refresh_from_db()
    return flag


@transaction.atomic
def close_flag(
    *, flag: FixtureFlag, state: FlagState, why: str, by: Actor, at: datetime
) -> FixtureFlag:
    """Close a flag with what was found. The fixture's chart starts a new stretch from here."""
    by.must_be(Role.LEAD, to="close a flag")
    state = FlagState(state)
    if state not in FOUND:
        raise BadInput(why="Close a flag as cause found or no cause found.", fields=("state",))
    if not why.strip():
        raise ReasonNeeded(what="Closing a flag")
    lock_fixture(flag.fixture)
    closed = FixtureFlag.objects.filter(pk=flag.pk, state__in=OPEN_FLAG).update(
        state=state, closed_at=at, closed_by=by.person, note=why.strip()
    )
    if not closed:
        raise BadInput(why="That flag is closed already.")
    journal.note(by, f"flag.{state}", subject=flag, at=at, after={"state": state}, why=why)
    ask("qc.follow_restart", at=at, kind="fixture", key=flag.fixture_id, since=at.isoformat())
    flag.refresh_from_db()
    return flag


def clear_by_service(event: ServiceEvent) -> None:
    """A service of the fixture clears its open flag; called in the service's own transaction."""
    assert event.fixture is not None
    lock_fixture(event.fixture)
    for flag in event.fixture.flags.filter(state__in=OPEN_FLAG):
        FixtureFlag.objects.filter(pk=flag.pk).update(
            state=FlagState.CLEARED, closed_at=event.at, closed_by=event.by, service=event
        )
        journal.note(
            Actor(event.by),
            "flag.cleared",
            subject=flag,
            at=event.at,
            before={"state": flag.state},
            after={"state": FlagState.CLEARED, "service": event.pk},
        )
