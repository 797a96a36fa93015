"""What flags say, in the viewer's unit: qc.lookups.flags.flag_words has the sentences."""

from __future__ import annotations

from urllib.parse import urlencode

from django import template
from django.utils import timezone

from dashboards.templatetags.shop_numbers import unit_of
from qc.lookups.flags import apart_words, decision_words, flag_words
from qc.lookups.flags.lines import (
    FlagLine,
    SuspectLine,
    told_name,
)
from qc.lookups.flags.suspected import Warned
from qc.lookups.flags.telling_apart import Apart, TrialLine
from qc.lookups.record.progress import Cutting
from qc.lookups.watch.what_pays import WhatPays
from qc.models import Decision

register = template.Library()


@register.simple_tag(takes_context=True)
def flag_says(context: template.Context, line: FlagLine) -> str:
    """{% flag_says line %}: since when, how far, toward where, and how sure."""
    return flag_words.says(line, shown=unit_of(context))


@register.filter
def look_at(kind: str) -> str:
    """{{ suspect.kind|look_at }}: where to look first."""
    return flag_words.LOOK_AT[kind]


@register.simple_tag
def warns(told: Warned) -> str:
    """{% warns one %}: what an open flag says to whoever works with what it suspects."""
    return flag_words.warns(told)


@register.simple_tag
def decided(line: FlagLine) -> str:
    """{% decided line %}: what was made of what was recommended, in a line."""
    assert line.decision is not None  # asked for by pages where one is kept
    return decision_words.decided(line, line.decision, today=timezone.localdate())


@register.simple_tag
def recommended(line: FlagLine) -> str:
    """{% recommended line %}: what was recommended, in words."""
    assert line.decision is not None  # as above
    return decision_words.recommended(line, line.decision)


@register.simple_tag
def followed(line: FlagLine) -> str:
    """{% followed line as told %}: how what was recommended is followed without an answer."""
    return decision_words.followed(line)


@register.simple_tag
def in_short(apart: Apart) -> str:
    """{% in_short apart %}: what tells two suspects apart best, in a few words."""
    return apart_words.in_short(apart)


@register.simple_tag
def is_put_off(decision: Decision | None) -> bool:
    """{% is_put_off line.decision as put_off %}: whether the day to decide again is still ahead."""
    return decision is not None and decision.is_put_off(today=timezone.localdate())


@register.filter
def to_do(told: Warned, cutting: Cutting) -> str:
    """{{ one|to_do:cutting }}: what to do about that, as far as the cut is."""
    return flag_words.TO_DO[told.kind][cutting]


@register.filter
def told_as(suspect: SuspectLine) -> str:
    """{{ line.cause|told_as }}: a thing by its name; of a person, how they work."""
    return told_name(suspect)


@register.filter
def work(minutes: float) -> str:
    """{{ minutes|work }}: 20 hours'."""
    return flag_words.work(minutes)


@register.simple_tag
def advises(pays: WhatPays) -> str:
    """{% advises pays %}: what the next job risks, and what putting it right costs."""
    return flag_words.advises(pays.advice, kind=pays.kind, minutes=pays.minutes)


@register.simple_tag
def risks(pays: WhatPays) -> str:
    """{% risks pays %}: what the next job risks."""
    return flag_words.risks(pays.advice, kind=pays.kind)


@register.filter
def one_in(probability: float) -> str:
    """{{ probability|one_in }}: 1 time in 9."""
    return flag_words.one_in(probability)


@register.simple_tag
def does(trial: TrialLine, *, is_surer: bool) -> str:
    """{% does trial is_surer=False %}: what would tell two suspects apart."""
    return apart_words.does(trial, is_surer=is_surer)


@register.simple_tag
def settles(trial: TrialLine, line: FlagLine) -> str:
    """{% settles trial line %}: how often that settles it, and what would be believed then."""
    first, second = (told_name(one) for one in line.suspects[:2])
    return apart_words.settles(trial, first=first, second=second)


@register.simple_tag
def put_on(trial: TrialLine, line: FlagLine) -> str:
    """{% put_on trial line %}: the query that fills in a set-up so, and says what for."""
    return urlencode({**trial.set_up, "flag": line.flag.pk})
