"""Gauge studies: opened, read turn by turn, closed, and taken as the shop's."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import ClassVar

from django.urls import reverse
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.bodies import Body, Why
from api.fields import StrictText
from api.paging import page
from api.retry import once
from api.v1 import study_forms as forms
from api.view import ShopView
from qc import access
from qc.lookups.gauges.gauge_studies import studies, study_record
from qc.models import GaugeStudy
from qc.operations import gauge_studies, study_trials, study_use


class OfStudy(ShopView):
    answer = forms.StudyOut

    def show(self, study: GaugeStudy, *, is_new: bool = False) -> Response:
        told = forms.StudyOut(study_record(access.study(study.pk))).data
        if not is_new:
            return Response(told)
        where = reverse("api:gauge-study", args=[study.pk])
        return Response(told, status=201, headers={"Location": where})


class Studies(OfStudy):
    filters = forms.StudyFilters
    row = forms.StudyRowOut
    body = forms.StudyIn
    creates = True

    def get(self, request: Request) -> Response:
        """Studies of gauges and hands, newest first."""
        asked = self.asked(request)
        rows = studies()
        if "open" in asked:
            rows = rows.filter(closed_at__isnull=asked["open"])
        return page(request, rows, lambda some: forms.StudyRowOut(some, many=True).data)

    @once
    def post(self, request: Request) -> Response:
        """Open a study; the order in which each person reads is drawn and kept."""
        facts = forms.StudyIn.parse(request.data)
        study = gauge_studies.open_study(
            seed=secrets.randbelow(2**31), by=self.by, at=timezone.now(), **facts
        )
        return self.show(study, is_new=True)


class Study(OfStudy):
    def get(self, request: Request, number: int) -> Response:
        """How far a study is, and what it came to; what was read is told once it is closed."""
        return self.show(access.study(number))


class Trials(OfStudy):
    body = forms.TrialIn
    creates = True

    @once
    def post(self, request: Request, number: int) -> Response:
        """Record what was read at a turn, which must be the next of its person."""
        study = access.study(number)
        facts = forms.TrialIn.parse(request.data)
        turn = access.study_turn(facts.pop("turn"), of=study)
        study_trials.record_trial(turn=turn, by=self.by, at=timezone.now(), **facts)
        return self.show(study, is_new=True)


class LeaveOut(OfStudy):
    body = Why

    @once
    def post(self, request: Request, number: int, turn: int) -> Response:
        """Pass over a turn that cannot be read, such as a piece that was lost."""
        study = access.study(number)
        study_trials.leave_out(
            turn=access.study_turn(turn, of=study),
            by=self.by,
            at=timezone.now(),
            **Why.parse(request.data),
        )
        return self.show(study)


class VoidTrial(OfStudy):
    body = Why

    @once
    def post(self, request: Request, number: int, reading_id: int) -> Response:
        """Void a reading, keeping it; in an open study its turn comes up again."""
        study = access.study(number)
        study_trials.void_trial(
            reading=access.study_reading(reading_id, of=study),
            by=self.by,
            at=timezone.now(),
            **Why.parse(request.data),
        )
        return self.show(study)


class ClosingIn(Body):
    why = StrictText(
        required=False, allow_blank=True, help_text="Needed while turns are still unread."
    )


class CloseStudy(OfStudy):
    body = ClosingIn

    @once
    def post(self, request: Request, number: int) -> Response:
        """Close a study with what there is, and work out what it shows."""
        study = access.study(number)
        study_use.close_study(
            study=study, by=self.by, at=timezone.now(), **ClosingIn.parse(request.data)
        )
        return self.show(study)


class Decide(OfStudy):
    """A lead's word on a closed study, with the reason."""

    body = Why
    decide: ClassVar[Callable[..., object]]

    @once
    def post(self, request: Request, number: int) -> Response:
        study = access.study(number)
        type(self).decide(study=study, by=self.by, at=timezone.now(), **Why.parse(request.data))
        return self.show(study)


class TakeStudy(Decide):
    """Take it as the shop's: jobs measured with its gauges from now on count it in."""

    decide = staticmethod(study_use.take_study)


class SetAsideStudy(Decide):
    """Set it aside again: jobs measured from now on use the shop's usual figures."""

    decide = staticmethod(study_use.set_aside)
