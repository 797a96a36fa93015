"""Who may open which page and send which form: one row an address and method.

A role that may send a form gets 422 for an empty one; what counts here is that it is let in. An
address with no row fails tests/dashboards/test_permissions.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

SIGN_IN = 302
OPENS = {"visitor": SIGN_IN, "viewer": 200, "operator": 200, "lead": 200}
RECORDERS_OPEN = {"visitor": SIGN_IN, "viewer": 403, "operator": 200, "lead": 200}
LEADS_OPEN = {"visitor": SIGN_IN, "viewer": 403, "operator": 403, "lead": 200}
RECORDERS_SEND = {"visitor": SIGN_IN, "viewer": 403, "operator": 422, "lead": 422}
NOT_THERE = {"visitor": SIGN_IN, "viewer": 404, "operator": 404, "lead": 404}
LEADS_SEND = {"visitor": SIGN_IN, "viewer": 403, "operator": 403, "lead": 422}


@dataclass(frozen=True)
class Row:
    """`where` fills the address; a text value names what the test's shop holds, such as "job"."""

    name: str
    method: str
    status: dict[str, int]
    where: dict[str, Any] = field(default_factory=dict)
    data: dict[str, Any] = field(default_factory=dict)


STEPS = ("as_found", "plan", "set_up", "indicate", "touch_off", "passes", "achieved")
SIGNED_IN_LEAVE = {"viewer": 302, "operator": 302, "lead": 302}


def form_of_recorders(name: str, **where: Any) -> list[Row]:
    return [Row(name, "get", RECORDERS_OPEN, where), Row(name, "post", RECORDERS_SEND, where)]


BENCH: list[Row] = [
    Row("sign_in", "get", {"visitor": 200, **SIGNED_IN_LEAVE}),
    Row("sign_in", "post", {"visitor": 422, **SIGNED_IN_LEAVE}),
    Row("sign_out", "post", {"visitor": 302, **SIGNED_IN_LEAVE}),
    Row("me", "get", OPENS),
    Row("me", "post", {**OPENS, "viewer": 422, "operator": 422, "lead": 422}, {}, {"save": "unit"}),
    Row("jobs", "get", OPENS),
    *form_of_recorders("job_new"),
    Row("job", "get", OPENS, {"number": "job"}),
    *(row for step in STEPS for row in form_of_recorders(step, number="job")),
    Row("verdict", "get", OPENS, {"number": "job"}),
    Row("verdict", "post", RECORDERS_SEND, {"number": "job"}),
    *form_of_recorders("skip", number="job", step="plan"),
    *form_of_recorders("parts_changed", number="job"),
    *form_of_recorders("limits", number="job"),
    *form_of_recorders("drop", number="job"),
    *form_of_recorders("add_readings", number="job", key="set"),
    *form_of_recorders("void_reading", number="job", key="reading"),
    *form_of_recorders("void_pass", number="job", key="pass"),
    Row("gap_figure", "get", OPENS, {"number": "job", "round_number": 1}),
    Row("timing_figure", "get", OPENS, {"number": "job", "round_number": 1}),
    Row(
        "dial_figure",
        "get",
        NOT_THERE,  # nobody indicated it
        {"number": "job", "round_number": 1, "when": "snug", "plane": 1},
    ),
    Row(
        "correction",
        "post",
        {"visitor": SIGN_IN, "viewer": 403, "operator": 302, "lead": 302},
        {"number": "job"},
    ),
]
RECORDERS_DO = {"visitor": SIGN_IN, "viewer": 403, "operator": 302, "lead": 302}
LEADS_DO = {"visitor": SIGN_IN, "viewer": 403, "operator": 403, "lead": 302}
ANYONE_SENDS = {"visitor": SIGN_IN, "viewer": 422, "operator": 422, "lead": 422}
# The operator of the table is who reported it.
REPORTERS_OPEN = {"visitor": SIGN_IN, "viewer": 403, "operator": 200, "lead": 403}
KINDS = ("lathe", "edge", "gauge", "fixture")


def form_of_leads(name: str, **where: Any) -> list[Row]:
    return [Row(name, "get", LEADS_OPEN, where), Row(name, "post", LEADS_SEND, where)]


LOOKS: list[Row] = [
    *(Row(name, "get", OPENS) for name in ("today", "fixtures", "accuracy", "shop")),
    *(
        Row(f"accuracy_{name}", "get", OPENS)
        for name in ("jobs", "months", "promise", "designs", "spread_figure", "designs_figure")
    ),
    *form_of_leads("accuracy_design_take"),
    Row("accuracy_months_figure", "get", OPENS),
    Row("accuracy_target_error_figure", "get", OPENS),
    Row("accuracy_height_error_figure", "get", OPENS),
    Row("charts", "get", OPENS),
    Row("chart_figure", "get", OPENS),
    *form_of_leads("chart_freeze"),
    *form_of_leads("chart_give_up", key="baseline"),
    Row("charts_rebuild", "post", LEADS_DO),
    Row("fixture", "get", OPENS, {"key": "fixture"}),
    Row("fixture_clock_figure", "get", OPENS, {"key": "fixture"}),
    Row("fixture_lanes_figure", "get", OPENS, {"key": "fixture"}),
    *form_of_recorders("fixture_report", key="fixture"),
    Row("fixture_confirm", "get", LEADS_OPEN, {"key": "reindication"}),
    Row("fixture_confirm", "post", LEADS_DO, {"key": "reindication"}),
    *(
        Row("fixture_correct", method, seen, {"key": "reindication"})
        for method, seen in (("get", REPORTERS_OPEN), ("post", {**REPORTERS_OPEN, "operator": 422}))
    ),
    Row("fixture_take_back", "post", {**REPORTERS_OPEN, "operator": 302}, {"key": "reindication"}),
    Row("fixture_set_aside", "post", LEADS_DO, {"key": "reindication"}),
    Row("flags", "get", OPENS),
    Row("flag", "get", OPENS, {"key": "flag"}),
    *form_of_leads("flag_decide", key="flag"),
    Row("flag", "get", {**OPENS, "viewer": 404}, {"key": "own_flag"}),
    Row("flag_look_into", "post", RECORDERS_DO, {"key": "flag"}),
    *form_of_leads("flag_close", key="flag"),
    *form_of_leads("flag_finding", key="flag"),
    *(Row(f"shop_{kind}s", "get", OPENS) for kind in KINDS),
    *(Row(f"shop_{kind}", "get", OPENS, {"key": kind}) for kind in KINDS),
    *(
        Row(f"shop_{kind}_lanes_figure", "get", OPENS, {"key": kind})
        for kind in ("lathe", "edge", "gauge")
    ),
    *(row for kind in KINDS for row in form_of_leads(f"shop_{kind}_new")),
    *(row for kind in KINDS for row in form_of_leads(f"shop_{kind}_change", key=kind)),
    *(row for kind in KINDS for row in form_of_leads(f"shop_{kind}_service", key=kind)),
    *(row for kind in KINDS for row in form_of_leads(f"shop_{kind}_retire", key=kind)),
    Row("shop_studies", "get", OPENS),
    *form_of_leads("shop_study_new"),
    Row("shop_study", "get", OPENS, {"key": "study"}),
    *form_of_recorders("shop_study_read", key="study"),
    Row("shop_study_figure", "get", NOT_THERE, {"key": "study"}),  # blind while it is open
    Row("shop_study_figure", "get", OPENS, {"key": "closed_study"}),
    *form_of_recorders("shop_study_void", key="study", reading="trial"),
    *form_of_recorders("shop_study_leave_out", key="study", turn=2),
    *form_of_leads("shop_study_close", key="study"),
    *form_of_leads("shop_study_take", key="closed_study"),
    *form_of_leads("shop_study_set_aside", key="closed_study"),
    Row("shop_standards", "get", OPENS),
    *form_of_leads("shop_standard_new"),
    *form_of_leads("shop_standard_retire", key="standard"),
    *form_of_recorders("shop_gauge_check", key="gauge"),
    *form_of_recorders("shop_gauge_check_void", key="gauge", check="check"),
    Row("shop_gauge_checks_figure", "get", OPENS, {"key": "gauge"}),
    Row("shop_families", "get", OPENS),
    Row("shop_family", "get", OPENS, {"key": "family"}),
    *form_of_leads("shop_family_new"),
    *form_of_leads("shop_family_change", key="family"),
    *form_of_leads("shop_family_retire", key="family"),
    Row("shop_family_burette", "get", OPENS, {"key": "family"}),
    Row("shop_family_burette_keep", "post", LEADS_SEND, {"key": "family"}),
    Row("shop_family_windows", "get", LEADS_OPEN, {"key": "family"}),
    Row("shop_family_windows", "post", LEADS_DO, {"key": "family"}),
    Row("shop_cylinders", "get", OPENS),
    Row("shop_cylinder", "get", OPENS, {"key": "cylinder"}),
    Row("shop_people", "get", OPENS),
    *form_of_leads("shop_person_new"),
    *form_of_leads("shop_person_change", key="person"),
    *form_of_leads("shop_person_password", key="person"),
    # Of the operator: for themselves and the leads.
    Row("shop_person_technique", "get", {**OPENS, "viewer": 404}, {"key": "person"}),
    Row("shop_person_technique_figure", "get", {**OPENS, "viewer": 404}, {"key": "person"}),
    Row("shop_tokens", "get", OPENS),
    Row("shop_token_new", "get", OPENS),
    Row("shop_token_new", "post", ANYONE_SENDS),
    Row("shop_token_revoke", "post", RECORDERS_DO, {"key": "token"}),
    Row("shop_notices", "get", LEADS_OPEN),
    Row("shop_notices_mail", "get", LEADS_OPEN, {"key": "person"}),
    Row("shop_notices_mail", "post", LEADS_DO, {"key": "person"}),  # empty: no e-mail
    Row("shop_notices_mail_test", "post", LEADS_DO),
    Row("shop_notice_again", "post", LEADS_DO, {"key": "notice"}),
    *form_of_leads("shop_webhook_new"),
    Row("shop_webhook", "get", LEADS_OPEN, {"key": "webhook"}),
    *form_of_leads("shop_webhook_change", key="webhook"),
    *form_of_leads("shop_webhook_retire", key="webhook"),
    Row("shop_webhook_test", "post", LEADS_DO, {"key": "webhook"}),
    Row("shop_settings", "get", OPENS),
    *form_of_leads("shop_settings_change"),
    Row("shop_settings_own_share", "post", LEADS_DO),
]

ROWS = [*BENCH, *LOOKS]
