"""Every address: the service's health, the API under /api/, and the pages."""

from __future__ import annotations

from django.urls import include, path

from deploy.health import health

urlpatterns = [
    path("health", health, name="health"),
    path("api/", include("api.urls")),
    path("", include("dashboards.urls")),
]

handler400 = "deploy.errors.bad_request"
handler403 = "deploy.errors.forbidden"
handler404 = "deploy.errors.not_found"
handler500 = "deploy.errors.server_error"
