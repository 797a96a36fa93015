"""Addresses to look at: today, fixtures, accuracy, and the shop's own things."""

from django.urls import URLPattern, path

from dashboards.views import (
    accuracy,
    charts,
    designs,
    engines,
    fixtures,
    flags,
    months,
    notices,
    people,
    promise,
    reindicating,
    resources,
    shop,
    standards,
    studies,
    study_deeds,
    technique,
    today,
)
from dashboards.views.kinds import FIXTURE, KINDS
from qc.models import Channel


def of_resources() -> list[URLPattern]:
    """The same addresses for each kind; a tool edge is fitted in a lathe instead of registered."""
    found = [path("shop/edges/new", resources.fit_edge, name="shop_edge_new")]
    for kind in KINDS:
        told, name, where = {"kind": kind}, f"shop_{kind.slug}", f"shop/{kind.slug}s"
        if kind.new is not None:
            found.append(path(f"{where}/new", resources.register, told, name=f"{name}_new"))
        found += [
            path(where, resources.rows, told, name=f"{name}s"),
            path(f"{where}/<int:key>", resources.one, told, name=name),
            path(f"{where}/<int:key>/change", resources.change, told, name=f"{name}_change"),
            path(f"{where}/<int:key>/service", resources.service, told, name=f"{name}_service"),
            path(f"{where}/<int:key>/retire", resources.retire, told, name=f"{name}_retire"),
        ]
        if kind is not FIXTURE:
            lanes = f"{where}/<int:key>/lanes.json"
            found.append(path(lanes, resources.lanes_figure, told, name=f"{name}_lanes_figure"))
    return found


def of_charts() -> list[URLPattern]:
    return [
        path(
            f"accuracy/{channel.value.replace('_', '-')}.json",
            accuracy.chart_figure,
            {"channel": channel},
            name=f"accuracy_{channel.value}_figure",
        )
        for channel in Channel
    ]


def of_studies() -> list[URLPattern]:
    one = "shop/studies/<int:key>"
    return [
        path("shop/studies", studies.studies, name="shop_studies"),
        path("shop/studies/new", studies.open_study, name="shop_study_new"),
        path(one, studies.study, name="shop_study"),
        path(f"{one}/read", studies.read, name="shop_study_read"),
        path(f"{one}/dots.json", studies.dots_figure, name="shop_study_figure"),
        path(f"{one}/readings/<int:reading>/void", study_deeds.void, name="shop_study_void"),
        path(
            f"{one}/turns/<int:turn>/leave-out", study_deeds.leave_out, name="shop_study_leave_out"
        ),
        path(f"{one}/close", study_deeds.close, name="shop_study_close"),
        path(f"{one}/take", study_deeds.take, name="shop_study_take"),
        path(f"{one}/set-aside", study_deeds.put_aside, name="shop_study_set_aside"),
    ]


def of_standards() -> list[URLPattern]:
    gauge = "shop/gauges/<int:key>"
    return [
        path("shop/standards", standards.standards, name="shop_standards"),
        path("shop/standards/new", standards.register, name="shop_standard_new"),
        path("shop/standards/<int:key>/retire", standards.retire, name="shop_standard_retire"),
        path(f"{gauge}/check", standards.check, name="shop_gauge_check"),
        path(
            f"{gauge}/checks/<int:check>/void", standards.void_check, name="shop_gauge_check_void"
        ),
        path(f"{gauge}/checks.json", standards.checks_figure, name="shop_gauge_checks_figure"),
    ]


def of_notices() -> list[URLPattern]:
    one = "shop/webhooks/<int:key>"
    return [
        path("shop/notices", notices.overview, name="shop_notices"),
        path("shop/notices/people/<int:key>", notices.mail, name="shop_notices_mail"),
        path("shop/notices/test", notices.try_mail, name="shop_notices_mail_test"),
        path("shop/notices/<int:key>/again", notices.send_again, name="shop_notice_again"),
        path("shop/webhooks/new", notices.add, name="shop_webhook_new"),
        path(one, notices.one, name="shop_webhook"),
        path(f"{one}/change", notices.change, name="shop_webhook_change"),
        path(f"{one}/retire", notices.retire, name="shop_webhook_retire"),
        path(f"{one}/test", notices.try_webhook, name="shop_webhook_test"),
    ]


urlpatterns: list[URLPattern] = [
    path("", today.today, name="today"),
    path("fixtures", fixtures.fixtures, name="fixtures"),
    path("fixtures/<int:key>", fixtures.fixture, name="fixture"),
    path("fixtures/<int:key>/clock.json", fixtures.clock_figure, name="fixture_clock_figure"),
    path("fixtures/<int:key>/lanes.json", fixtures.lanes_figure, name="fixture_lanes_figure"),
    path("fixtures/<int:key>/re-indicated", reindicating.report, name="fixture_report"),
    path("fixtures/reports/<int:key>/confirm", reindicating.confirm, name="fixture_confirm"),
    path("fixtures/reports/<int:key>/correct", reindicating.correct, name="fixture_correct"),
    path("fixtures/reports/<int:key>/take-back", reindicating.take_back, name="fixture_take_back"),
    path("fixtures/reports/<int:key>/set-aside", reindicating.set_aside, name="fixture_set_aside"),
    path("flags", flags.flags_list, name="flags"),
    path("flags/<int:key>", flags.flag, name="flag"),
    path("flags/<int:key>/decide", flags.decide, name="flag_decide"),
    path("flags/<int:key>/look-into", flags.look_into, name="flag_look_into"),
    path("flags/<int:key>/close", flags.close, name="flag_close"),
    path("flags/<int:key>/finding", flags.finding, name="flag_finding"),
    path("accuracy", accuracy.accuracy, name="accuracy"),
    path("accuracy/jobs", accuracy.jobs, name="accuracy_jobs"),
    path("accuracy/months", months.months, name="accuracy_months"),
    path("accuracy/months.json", accuracy.months_figure, name="accuracy_months_figure"),
    path("accuracy/spread.json", months.spread_figure, name="accuracy_spread_figure"),
    path("accuracy/promise", promise.promise, name="accuracy_promise"),
    path("accuracy/designs", designs.designs, name="accuracy_designs"),
    path("accuracy/designs.json", designs.designs_figure, name="accuracy_designs_figure"),
    path("accuracy/designs/take", designs.take, name="accuracy_design_take"),
    *of_charts(),
    path("charts", charts.chart, name="charts"),
    path("charts/figure.json", charts.figure, name="chart_figure"),
    path("charts/freeze", charts.freeze, name="chart_freeze"),
    path("charts/limits/<int:key>/give-up", charts.give_up, name="chart_give_up"),
    path("charts/rebuild", charts.rebuild, name="charts_rebuild"),
    path("shop", shop.shop, name="shop"),
    *of_resources(),
    *of_studies(),
    *of_standards(),
    *of_notices(),
    path("shop/families", engines.families, name="shop_families"),
    path("shop/families/new", engines.add_family, name="shop_family_new"),
    path("shop/families/<int:key>", engines.family, name="shop_family"),
    path("shop/families/<int:key>/change", engines.change_family, name="shop_family_change"),
    path("shop/families/<int:key>/burette", engines.burette, name="shop_family_burette"),
    path(
        "shop/families/<int:key>/burette/keep",
        engines.keep_burette,
        name="shop_family_burette_keep",
    ),
    path("shop/families/<int:key>/windows", engines.windows, name="shop_family_windows"),
    path("shop/families/<int:key>/retire", engines.retire_family, name="shop_family_retire"),
    path("shop/cylinders", engines.cylinders, name="shop_cylinders"),
    path("shop/cylinders/<int:key>", engines.cylinder, name="shop_cylinder"),
    path("shop/people", people.people_list, name="shop_people"),
    path("shop/people/new", people.add, name="shop_person_new"),
    path("shop/people/<int:key>/change", people.change, name="shop_person_change"),
    path("shop/people/<int:key>/technique", technique.technique, name="shop_person_technique"),
    path(
        "shop/people/<int:key>/technique.json",
        technique.lanes_figure,
        name="shop_person_technique_figure",
    ),
    path("shop/people/<int:key>/password", people.set_password, name="shop_person_password"),
    path("shop/tokens", people.tokens, name="shop_tokens"),
    path("shop/tokens/new", people.make_token, name="shop_token_new"),
    path("shop/tokens/<int:key>/revoke", people.revoke_token, name="shop_token_revoke"),
    path("shop/settings", shop.settings, name="shop_settings"),
    path("shop/settings/own-share", shop.use_own_share, name="shop_settings_own_share"),
    path("shop/settings/change", shop.change_settings, name="shop_settings_change"),
]
