"""Addresses of the bench: signing in, and a job from its opening to its release."""

from django.urls import URLPattern, path

from dashboards.views import (
    corrections,
    decisions,
    gaps,
    jobs,
    lathe,
    lathe_drawings,
    plan,
    signing,
)

urlpatterns: list[URLPattern] = [
    path("sign-in", signing.SignIn.as_view(), name="sign_in"),
    path("sign-out", signing.SignOut.as_view(), name="sign_out"),
    path("me", signing.me, name="me"),
    path("jobs", jobs.jobs, name="jobs"),
    path("jobs/new", jobs.new, name="job_new"),
    path("jobs/<int:number>", jobs.job, name="job"),
    path("jobs/<int:number>/as-found", gaps.as_found, name="as_found"),
    path("jobs/<int:number>/plan", plan.plan, name="plan"),
    path("jobs/<int:number>/set-up", lathe.set_up, name="set_up"),
    path("jobs/<int:number>/indicate", lathe.indicate, name="indicate"),
    path("jobs/<int:number>/correction", lathe.correction, name="correction"),
    path("jobs/<int:number>/touch-off", lathe.touch_off, name="touch_off"),
    path("jobs/<int:number>/passes", lathe.passes, name="passes"),
    path("jobs/<int:number>/achieved", gaps.achieved, name="achieved"),
    path("jobs/<int:number>/verdict", decisions.verdict, name="verdict"),
    path("jobs/<int:number>/skip/<str:step>", corrections.skip, name="skip"),
    path("jobs/<int:number>/parts-changed", corrections.parts_changed, name="parts_changed"),
    path("jobs/<int:number>/limits", corrections.limits, name="limits"),
    path("jobs/<int:number>/drop", corrections.drop, name="drop"),
    path("jobs/<int:number>/sets/<int:key>/add", corrections.add, name="add_readings"),
    path(
        "jobs/<int:number>/readings/<int:key>/void", corrections.void_reading, name="void_reading"
    ),
    path("jobs/<int:number>/passes/<int:key>/void", corrections.void_pass, name="void_pass"),
    path(
        "jobs/<int:number>/rounds/<int:round_number>/gap.json", jobs.gap_figure, name="gap_figure"
    ),
    path(
        "jobs/<int:number>/rounds/<int:round_number>/timing.json",
        lathe_drawings.timing_figure,
        name="timing_figure",
    ),
    path(
        "jobs/<int:number>/rounds/<int:round_number>/dial/<str:when>/<int:plane>.json",
        lathe_drawings.dial_figure,
        name="dial_figure",
    ),
]
