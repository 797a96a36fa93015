"""Addresses under /api/: version 1, the description of it, and a problem for anything else."""

from __future__ import annotations

from django.urls import include, path, re_path
from drf_spectacular.views import SpectacularJSONAPIView

from api.errors import no_such_address

app_name = "api"
urlpatterns = [
    path("v1/", include("api.v1.urls")),
    path("schema", SpectacularJSONAPIView.as_view(), name="schema"),
    re_path(r"", no_such_address),
]
