"""A person's technique: for that person and the leads, in words of how the work is done."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from dashboards.views.drawn import drawn
from dashboards.views.ground import page, show
from dashboards.views.resource_drawings import lanes_drawing, standing_drawn
from qc import access
from qc.actor import Actor
from qc.lookups.watch.beliefs import Called
from qc.models import Role


@page("shop")
def technique(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    person = access.technique(key, by=by)
    is_own = person.pk == by.person.pk
    called = (
        Called("your", "Pieces crushed by you")
        if is_own
        else Called(f"{person.name}'s", f"Pieces crushed by {person.name}")
    )
    context = {
        "person": person,
        "is_own": is_own,
        "is_lead": by.may(Role.LEAD),
        **standing_drawn("person", key, by, called=called),
    }
    return show(request, "dashboards/shop/technique.html", context)


@page("shop")
def lanes_figure(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return drawn(lanes_drawing("person", access.technique(key, by=by).pk, by))
