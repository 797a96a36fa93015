"""Addresses of the bench: signing in, and a job from its opening to its release."""

from django.urls import URLPattern, path

from dashboards.views import signing

urlpatterns: list[URLPattern] = [
    path("sign-in", signing.SignIn.as_view(), name="sign_in"),
    path("sign-out", signing.SignOut.as_view(), name="sign_out"),
    path("me", signing.me, name="me"),
]
