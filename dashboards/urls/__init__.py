"""Addresses of the pages: the bench's (a job, step by step) and those to look at."""

from django.urls import include, path

app_name = "dashboards"

urlpatterns = [
    path("", include("dashboards.urls.bench")),
    path("", include("dashboards.urls.looks")),
]
