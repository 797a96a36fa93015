"""What a flag says, in sentences: one wording for its pages, the lists and the e-mail.

`line` is a FlagLine as its reader may see it, `shown` the unit they read. Days are on the clock
that is in force (django.utils.timezone.override), the shop's.
"""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone

from qc.lookups.flags.lines import FlagLine, one_of
from qc.lookups.flags.suspected import Warned
from qc.lookups.record.progress import Cutting
from qc.numerics.drift.decision import Advice
from qc.shown import ShownUnit, wide_toward

LOOK_AT = {
    "fixture": "The locating face for dirt or a burr, the jaws for an uneven grip, the arbor for a "
    "lean: indicate it before the next job goes on it.",
    "lathe": "The dial and its lock, the carriage stop, play that was not taken up: touch off "
    "twice on one face and compare.",
    "edge": "The edge under a glass, for wear, a chip or a built-up edge: fit a fresh one, or cut "
    "one job with another slot.",
    "gauge": "Its faces and its zero: check it against a standard, and measure one cylinder with "
    "it and with another gauge.",
    "person": "How the solder lies, how the bolts are pulled up, how touch-off is felt: go through "
    "one job together, and measure one engine twice.",
}

# What whoever works with a suspect does about it, as far as the cut is.
_STOP = "Stop before the next pass, and ask the lead."
_TWICE = "Touch off twice and compare before"
_HEIGHT_SHOWS = f"If it moved, the height achieved shows it. {_TWICE} any further cut."
_TILT_SHOWS = (
    "If it moved, the side-to-side difference shows it. Re-indicate it before any further cut."
)
_OTHER_GAUGE = "Check it against a standard, measure with another, or ask the lead."
_AT_THE_LATHE = {
    Cutting.AHEAD: f"{_TWICE} you cut, or ask the lead.",
    Cutting.BEGUN: _STOP,
    Cutting.OVER: _HEIGHT_SHOWS,
    Cutting.JUDGED: _HEIGHT_SHOWS,
}
TO_DO = {
    "fixture": {
        Cutting.AHEAD: "Re-indicate it before you cut, or ask the lead.",
        Cutting.BEGUN: _STOP,
        Cutting.OVER: _TILT_SHOWS,
        Cutting.JUDGED: _TILT_SHOWS,
    },
    "lathe": _AT_THE_LATHE,
    "edge": _AT_THE_LATHE,
    "gauge": {
        Cutting.AHEAD: _OTHER_GAUGE,
        Cutting.BEGUN: _OTHER_GAUGE,
        Cutting.OVER: _OTHER_GAUGE,
        Cutting.JUDGED: "Readings of this job rest on it. Measure again with another before it is "
        "released, or ask the lead.",
    },
}

# How a job is made with it, what it misses, how it would stand once that is put right, and what
# that takes.
RISKS = {
    "fixture": (
        "on it",
        "misses its evenness limit",
        "just re-indicated",
        "Re-indicating takes",
    ),
    "edge": (
        "with it",
        "misses its height tolerance",
        "with a fresh edge",
        "Changing or re-grinding it takes about",
    ),
    "gauge": (
        "with it",
        "misses its height tolerance",
        "with the gauge checked and set",
        "Checking it against its standard takes about",
    ),
    "lathe": (
        "with it",
        "misses its height tolerance",
        "with the lathe put right",
        "Going over its dial, stop and play takes about",
    ),
}
# A job that misses less often than this needs no remedy told.
OFTEN = 0.05


def says(line: FlagLine, *, shown: ShownUnit) -> str:
    """Since when, how far, toward where, and how sure."""
    growing = ", growing from job to job" if line.is_wear else ""
    said = f"Since about {day(line.since.at)}{growing}: {_how_far(line, shown)}."
    if line.named is None or not line.named.percent:
        return said
    sure = f"{line.named.percent} % sure that it is this one"
    return f"{said} {sure}, if one of the shop's things moved."


def _how_far(line: FlagLine, shown: ShownUnit) -> str:
    if line.is_tilt:
        clock = "its own clock" if line.kind == "fixture" else "the engine's clock"
        size = shown.text(line.size_mm)
        return f"{size} side to side, {wide_toward(line.wide_deg)} on {clock}"
    if line.is_height:
        side = "wider" if line.is_wide else "tighter"
        return f"gaps come out {shown.text(abs(line.size_mm or 0.0))} {side} than predicted"
    return f"repeats at one position scatter {line.spread_ratio:.1f} times as widely"


def warns(told: Warned) -> str:
    """To whoever works with what an open flag suspects, in a line."""
    names = one_of(told.things)
    if told.is_named:
        return f"{names} is believed to have moved."
    if len(told.things) == told.of:
        return f"{names} may have moved."
    return f"{names} may have moved; one of {told.of} that could have."


def risks(told: Advice, *, kind: str) -> str:
    """What the next job risks on or with a thing of this kind; one that misses often, with what
    putting this right would make of it."""
    made = "" if kind == "fixture" else ", made as its last one was,"
    where, misses, put_right, _ = RISKS[kind]
    now, after = one_in(told.miss_probability), one_in(told.after_reindicating)
    right = ""
    if told.miss_probability >= OFTEN:
        right = f"; {put_right}, {'as often' if now == after else after}"
    return f"The next job {where}{made} {misses} {now}{right}."


def advises(told: Advice, *, kind: str, minutes: float) -> str:
    """What the next job risks on or with a thing of this kind, and what putting it right costs."""
    where, misses, right, takes = RISKS[kind]
    pays = f"; in {told.jobs_planned} jobs it would not pay by the misses alone"
    if told.pays_after_jobs:
        jobs = "job" if told.pays_after_jobs == 1 else "jobs"
        pays = f" and pays after {told.pays_after_jobs} {jobs}"
    return (
        f"The next job {where} {misses} {one_in(told.miss_probability)}; {right}, "
        f"{one_in(told.after_reindicating)}. {takes} {minutes:g} minutes{pays}."
    )


def one_in(probability: float) -> str:
    """1 time in 9, or less than 1 time in 1000: never as certain, nor as never."""
    if probability < 0.001:
        return "less than 1 time in 1000"
    if probability >= 0.95:
        return "more than 9 times in 10"
    if probability > 0.5:
        return f"{probability * 10:.0f} times in 10"
    once = 1 / probability
    return f"1 time in {round(once, -1) if once >= 100 else once:.0f}"


def work(minutes: float) -> str:
    """25 minutes, 2.5 hours or 20 hours, with a genitive: as closely as an expectation is known."""
    if minutes < 90:
        return f"{minutes:.0f} minutes'"
    hours = minutes / 60
    return f"{hours:.1f} hours'" if hours < 9.5 else f"{hours:.0f} hours'"


def day(at: datetime) -> str:
    """12 Mar 2026."""
    return spelt(timezone.localtime(at).date())


def spelt(on: date) -> str:
    return f"{on.day} {on:%b %Y}"
