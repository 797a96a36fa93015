"""Every address of version 1. What it means stays: fields and endpoints may be added."""

from __future__ import annotations

from django.urls import URLPattern, path

from api.v1 import (
    charts,
    engines,
    flags,
    jobs,
    kept_charts,
    lathe_sums,
    reindications,
    resources,
    shop,
    standards,
    stands,
    statistics,
    steps,
    studies,
    sums,
)
from api.v1.resource_views import Kind

STEPS: dict[str, type[steps.Step]] = {
    "as-found": steps.AsFound,
    "plan": steps.Plan,
    "set-up": steps.SetUp,
    "indicating": steps.Indicating,
    "correction": steps.Correction,
    "touch-off": steps.TouchOff,
    "passes": steps.TakePass,
    "achieved": steps.Achieved,
    "skip": steps.Skip,
    "parts-changed": steps.PartsChanged,
    "cut-again": steps.CutAgain,
    "release": steps.Release,
    "concede": steps.Concede,
    "scrap": steps.Scrap,
    "drop": steps.Drop,
    "limits": steps.Limits,
    "reading-sets/<int:set_id>/readings": steps.AddReadings,
    "readings/<int:reading_id>/void": steps.VoidReading,
    "passes/<int:pass_id>/void": steps.VoidPass,
}


def _of_kind(
    plural: str,
    many: type[Kind],
    one: type[Kind],
    retire: type[Kind],
    service: type[Kind],
    stands: type[Kind],
) -> list[URLPattern]:
    return [
        path(plural, many.as_view(), name=plural),
        path(f"{plural}/<int:number>", one.as_view(), name=one.one),
        path(f"{plural}/<int:number>/retire", retire.as_view(), name=f"{one.one}-retire"),
        path(f"{plural}/<int:number>/service", service.as_view(), name=f"{one.one}-service"),
        path(f"{plural}/<int:number>/watched", stands.as_view(), name=f"{one.one}-watched"),
    ]


urlpatterns = [
    path("me", shop.Me.as_view(), name="me"),
    path("shop", shop.Shop.as_view(), name="shop"),
    path("jobs", jobs.JobsView.as_view(), name="jobs"),
    path("jobs/<int:number>", jobs.JobView.as_view(), name="job"),
    path("jobs/<int:number>/journal", jobs.JobJournalView.as_view(), name="job-journal"),
    *(
        path(f"jobs/<int:number>/{step}", view.as_view(), name=f"job-{view.__name__.lower()}")
        for step, view in STEPS.items()
    ),
    *_of_kind(
        "fixtures",
        resources.Fixtures,
        resources.Fixture,
        resources.FixtureRetire,
        resources.FixtureService,
        resources.FixtureStands,
    ),
    *_of_kind(
        "lathes",
        resources.Lathes,
        resources.Lathe,
        resources.LatheRetire,
        resources.LatheService,
        resources.LatheStands,
    ),
    *_of_kind(
        "edges",
        resources.Edges,
        resources.Edge,
        resources.EdgeRetire,
        resources.EdgeService,
        resources.EdgeStands,
    ),
    path(
        "edges/<int:number>/correction",
        resources.EdgeCorrection.as_view(),
        name="edge-correction",
    ),
    *_of_kind(
        "gauges",
        resources.Gauges,
        resources.Gauge,
        resources.GaugeRetire,
        resources.GaugeService,
        resources.GaugeStands,
    ),
    path("gauges/<int:number>/checks", standards.Checks.as_view(), name="gauge-checks"),
    path(
        "gauges/<int:number>/checks/<int:check_id>/void",
        standards.VoidCheck.as_view(),
        name="gauge-check-void",
    ),
    path(
        "gauges/<int:number>/standing",
        standards.GaugeStandingView.as_view(),
        name="gauge-standing",
    ),
    path("standards", standards.Standards.as_view(), name="standards"),
    path("standards/<int:number>", standards.Standard.as_view(), name="standard"),
    path(
        "standards/<int:number>/retire", standards.RetireStandard.as_view(), name="standard-retire"
    ),
    path("gauge-studies", studies.Studies.as_view(), name="gauge-studies"),
    path("gauge-studies/<int:number>", studies.Study.as_view(), name="gauge-study"),
    *(
        path(f"gauge-studies/<int:number>/{step}", view.as_view(), name=f"gauge-study-{name}")
        for step, name, view in (
            ("trials", "trials", studies.Trials),
            ("turns/<int:turn>/leave-out", "leave-out", studies.LeaveOut),
            ("trials/<int:reading_id>/void", "void", studies.VoidTrial),
            ("close", "close", studies.CloseStudy),
            ("take", "take", studies.TakeStudy),
            ("set-aside", "set-aside", studies.SetAsideStudy),
        )
    ),
    path("families", engines.Families.as_view(), name="families"),
    path("families/<int:number>", engines.Family.as_view(), name="family"),
    path("families/<int:number>/retire", engines.FamilyRetire.as_view(), name="family-retire"),
    path("cylinders", engines.Cylinders.as_view(), name="cylinders"),
    path("cylinders/<int:number>", engines.Cylinder.as_view(), name="cylinder"),
    path(
        "fixtures/<int:number>/re-indicated",
        reindications.Reindications.as_view(),
        name="fixture-re-indicated",
    ),
    *(
        path(
            f"fixtures/<int:number>/re-indicated/<int:report_id>/{step}",
            view.as_view(),
            name=f"fixture-re-indicated-{step}",
        )
        for step, view in (
            ("correct", reindications.CorrectReindication),
            ("take-back", reindications.TakeBackReindication),
        )
    ),
    path("fixtures/<int:number>/chart", charts.FixtureChart.as_view(), name="fixture-chart"),
    path("charts/target_error", charts.TargetErrorChart.as_view(), name="target-error-chart"),
    path("charts/height_error", charts.HeightErrorChart.as_view(), name="height-error-chart"),
    path("charts", kept_charts.Charts.as_view(), name="charts"),
    path("charts/rebuild", kept_charts.RebuildCharts.as_view(), name="charts-rebuild"),
    path("baselines", kept_charts.Baselines.as_view(), name="baselines"),
    path(
        "baselines/<int:number>/give-up",
        kept_charts.GiveUpBaseline.as_view(),
        name="baseline-give-up",
    ),
    path("rule-sets", kept_charts.RuleSetsView.as_view(), name="rule-sets"),
    path("flags", flags.Flags.as_view(), name="flags"),
    path("flags/<int:number>", flags.OneFlag.as_view(), name="flag"),
    path("flags/<int:number>/look-into", flags.LookIntoFlag.as_view(), name="flag-look-into"),
    path("flags/<int:number>/close", flags.CloseFlag.as_view(), name="flag-close"),
    path("flags/<int:number>/finding", flags.FlagFinding.as_view(), name="flag-finding"),
    path("flags/<int:number>/decide", flags.DecideFlag.as_view(), name="flag-decide"),
    path("recording-gains", stands.RecordingGains.as_view(), name="recording-gains"),
    path("signals", flags.Signals.as_view(), name="signals"),
    path("capability", statistics.Capability.as_view(), name="capability"),
    path("shifts", statistics.ShiftsView.as_view(), name="shifts"),
    path("charts/design", statistics.TakeDesign.as_view(), name="chart-design"),
    path("sums/chart-designs", statistics.ChartDesignsSum.as_view(), name="sums-chart-designs"),
    path("sums/plan", sums.PlanSum.as_view(), name="sums-plan"),
    path("sums/check", sums.CheckSum.as_view(), name="sums-check"),
    path("sums/burette", sums.BuretteSum.as_view(), name="sums-burette"),
    path("sums/indicating", lathe_sums.IndicatingSum.as_view(), name="sums-indicating"),
    path("sums/clocking", lathe_sums.ClockingSum.as_view(), name="sums-clocking"),
    path("sums/cutting", lathe_sums.CuttingSum.as_view(), name="sums-cutting"),
]
