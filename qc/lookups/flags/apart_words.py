"""How a job, check or service that tells two suspects apart is told in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from qc.lookups.flags.telling_apart import (
    Apart,
    Service,
    TrialLine,
    Use,
)

FIRST = {
    "fixture": "re-indicate {name}",
    "edge": "fit a fresh edge in place of {name}",
    "gauge": "check {name} against its standard and set it",
    "lathe": "go over the dial, stop and play of {name}",
}
# A job's column for what was put right first: the job is done with that.
ITS_COLUMN = {"fixture": "fixture", "edge": "edge", "gauge": "gauge_achieved"}


def does(trial: TrialLine, *, is_surer: bool) -> str:
    """What is to be done. is_surer: said after something that settles it less often."""
    if trial.gauges is not None:
        return f"Measure one cylinder with {trial.gauges[0]} and with {trial.gauges[1]}."
    read = f", read {trial.read}" if trial.read else ""
    if trial.service is None:
        return f"One job with {_listed(trial.uses)}{read}."
    return f"{'Surer: first' if is_surer else 'First'} {_after(trial.service, trial.uses)}{read}."


def in_short(apart: Apart) -> str:
    """The one to begin with: fit a fresh edge in place of Insert 1, then one job."""
    trial = apart.job or apart.surer
    assert trial is not None  # Apart holds one at least
    if trial.gauges is not None:
        return f"measure one cylinder with {trial.gauges[0]} and with {trial.gauges[1]}"
    if trial.service is None:
        return f"one job with {_listed(trial.uses)}"
    return f"{FIRST[trial.service.kind].format(name=trial.service.name)}, then one job"


def _after(service: Service, uses: Sequence[Use]) -> str:
    own = ITS_COLUMN.get(service.kind)
    others = [one for one in uses if one.column != own]
    done_with = "it" if own else service.name
    also = f": {_listed(others)}" if others else ""
    right = FIRST[service.kind].format(name=service.name)
    return (
        f"{right}, {service.minutes} minutes by the shop's settings; "
        f"then one job with {done_with}{also}"
    )


def settles(trial: TrialLine, *, first: str, second: str) -> str:
    """How often that settles it, and what would most likely be believed after it."""
    done = "such a job is" if trial.gauges is None and trial.service is None else "this is"
    said = (
        f"Of 100 times that {done} done, {trial.of_100} settle which of the two it is. "
        f"Of the two, {first} is {trial.percent_now} % likely now; most likely that becomes "
        f"{trial.percent_if_first} % if it is {first}, and {trial.percent_if_second} % if it is "
        f"{second}."
    )
    if trial.if_fully_read is None:
        return said
    return (
        f"{said} Measured {trial.fully}, it would settle it {trial.of_100_fully_read} times in 100."
    )


def _listed(uses: Sequence[Use]) -> str:
    return ", ".join(f"{one.what} {one.name}" for one in uses)
