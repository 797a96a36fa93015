"""The names that the ground of a page links to, for tests of the ground alone."""

from django.http import HttpRequest, HttpResponse
from django.urls import include, path

NAMES = ("today", "jobs", "fixtures", "flags", "accuracy", "shop", "me", "sign_in", "sign_out")


def nothing(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


pages = [path(name, nothing, name=name) for name in NAMES]
urlpatterns = [path("", include((pages, "dashboards")))]
