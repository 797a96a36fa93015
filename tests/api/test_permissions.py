"""Who may do what, as a table over every address of the API.

Each row is tried by nobody, a viewer, an operator and a lead, from the same state of the shop, so
that a refusal is refused for that reason and no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.urls import URLPattern, URLResolver, get_resolver

from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP
from qc.models import (
    Channel,
    GaugeStudy,
    Job,
    Pass,
    Reading,
    ReadingSet,
    ServiceKind,
    State,
    StudyReading,
)
from qc.operations import reindicating, study_use
from qc.operations.baselines import freeze_limits
from qc.operations.resources import record_service
from tests.api.bench import Bench, gaps, mm
from tests.cutting import cut_some
from tests.flagged import make_flag
from tests.make import EVEN, FOUND, NOON, Shop, make_cylinder, make_job
from tests.studies import (
    check_gauge,
    closed_study,
    make_standard,
    make_study,
    read_study,
    scattered,
)

ROLES = ("nobody", "viewer", "operator", "lead")
ALL_READ = (401, 200, 200, 200)
RECORD = (401, 403, 200, 200)
MAKE = (401, 403, 201, 201)
LEAD = (401, 403, 403, 200)
REPORTER = (401, 403, 200, 403)
LEAD_MAKES = (401, 403, 403, 201)

Facts = dict[str, Any]


@dataclass(frozen=True)
class Row:
    """One request: where the job stands, what is sent, and what each of ROLES is answered."""

    statuses: tuple[int, int, int, int]
    body: Callable[[Shop, Facts], Any] = lambda shop, facts: None
    state: State = State.OPEN
    arrange: Callable[[Shop, Facts], None] = lambda shop, facts: None
    query: str = ""


def sent(**body: Any) -> Callable[[Shop, Facts], Any]:
    return lambda shop, facts: body


def readings(values: dict[int, str]) -> Callable[[Shop, Facts], Any]:
    return lambda shop, facts: {
        "gauge": shop.gauge.pk,
        "base_gasket": mm("0.50"),
        "readings": gaps(values),
    }


def set_up(shop: Shop, facts: Facts) -> Any:
    return {
        "fixture": shop.fixture.pk,
        "lathe": shop.lathe.pk,
        "edge": shop.edge.pk,
        "clocking_deg": None,
    }


def family(shop: Shop, facts: Facts) -> Any:
    lengths = {
        "bore": "38",
        "stroke": "30",
        "rod": "52",
        "target": "0.6",
        "tol_minus": "0.05",
        "tol_plus": "0.05",
        "floor": "0.5",
        "measuring_radius": "17",
    }
    return {"name": "Birch 38", **{name: mm(value) for name, value in lengths.items()}}


def raise_flag(shop: Shop, facts: Facts) -> None:
    round_ = Job.objects.get().rounds.get()
    facts["number"] = make_flag(round_, kind="fixture", key=shop.fixture.pk).pk


def cleared_flag(shop: Shop, facts: Facts) -> None:
    raise_flag(shop, facts)
    later = NOON + timedelta(days=1)
    record_service(subject=shop.fixture, kind=ServiceKind.REPAIRED, by=shop.lead, at=later)


def reported_by_the_operator(shop: Shop, facts: Facts) -> None:
    facts["number"] = shop.fixture.pk
    facts["report_id"] = reindicating.report(
        fixture=shop.fixture, as_left_mm=Decimal("0.004"), by=shop.operator, at=NOON
    ).pk


def a_dozen_jobs(shop: Shop, facts: Facts) -> None:
    facts["jobs"] = [one.pk for one in cut_some(shop, 12)]


def frozen_limits(shop: Shop, facts: Facts) -> None:
    a_dozen_jobs(shop, facts)
    frozen = freeze_limits(
        chart=ErrorChartKept(Channel.HEIGHT_ERROR, SHOP),
        first_job=facts["jobs"][0],
        last_job=facts["jobs"][-1],
        why="A good month",
        by=shop.lead,
        at=NOON,
    )
    facts["number"] = frozen.pk


def number_of(kind: str) -> Callable[[Shop, Facts], None]:
    def arrange(shop: Shop, facts: Facts) -> None:
        facts["number"] = getattr(shop, kind).pk

    return arrange


def latest(name: str, model: Any, **having: Any) -> Callable[[Shop, Facts], None]:
    def arrange(shop: Shop, facts: Facts) -> None:
        facts[name] = model.objects.filter(**having).latest("pk").pk

    return arrange


def cylinder_number(shop: Shop, facts: Facts) -> None:
    facts["number"] = Job.objects.get().cylinder_id


def of_kind(plural: str, kind: str, register: Any, service: str) -> dict[tuple[str, str], Row]:
    this = number_of(kind)
    return {
        ("GET", plural): Row(ALL_READ),
        ("POST", plural): Row(LEAD_MAKES, register),
        ("GET", kind): Row(ALL_READ, arrange=this),
        ("PATCH", kind): Row(LEAD, sent(note="Moved"), arrange=this),
        ("POST", f"{kind}-retire"): Row(LEAD, sent(why="Worn"), arrange=this),
        ("GET", f"{kind}-service"): Row(ALL_READ, arrange=this),
        ("POST", f"{kind}-service"): Row(LEAD_MAKES, sent(kind=service), arrange=this),
        ("GET", f"{kind}-watched"): Row(ALL_READ, arrange=this),
    }


def study_opened(shop: Shop, facts: Facts) -> None:
    study = make_study(shop)
    facts["number"], facts["turn"] = study.pk, 1


def study_read(shop: Shop, facts: Facts) -> None:
    study_opened(shop, facts)
    study = GaugeStudy.objects.get()
    read_study(study, scattered(shop), by=shop.operator, most=1)
    facts["reading_id"] = StudyReading.objects.get().pk


def study_closed(shop: Shop, facts: Facts) -> None:
    facts["number"] = closed_study(shop).pk


def study_taken(shop: Shop, facts: Facts) -> None:
    study_closed(shop, facts)
    study_use.take_study(study=GaugeStudy.objects.get(), why="So", by=shop.lead, at=NOON)


def standard_there(shop: Shop, facts: Facts) -> None:
    facts["number"] = make_standard(shop).pk


def gauge_checked(shop: Shop, facts: Facts) -> None:
    [check] = check_gauge(shop, make_standard(shop), ["0.501"])
    facts["number"], facts["check_id"] = shop.gauge.pk, check.pk


def study_of(shop: Shop, facts: Facts) -> Any:
    return {
        "name": "Winter",
        "gauges": [shop.gauge.pk],
        "people": ["oskar", "lena"],
        "parts": 4,
        "trials": 2,
        "pieces_are": "crushed solder",
        "repeats": "fresh_piece",
        "nominal": mm("0.5"),
        "tolerance": mm("0.1"),
    }


SUM = {
    "readings": gaps(FOUND),
    "gauge_step": mm("0.01"),
    "target": mm("0.5"),
    "floor": mm("0.42"),
}
RUN = {"readings": gaps(FOUND), "gauge_step": mm("0.01")}
TABLE: dict[tuple[str, str], Row] = {
    ("GET", "me"): Row(ALL_READ),
    ("GET", "shop"): Row(ALL_READ),
    ("GET", "jobs"): Row(ALL_READ),
    ("POST", "jobs"): Row(MAKE, lambda shop, facts: {"cylinder": make_cylinder(shop, "C-2").pk}),
    ("GET", "job"): Row(ALL_READ),
    ("GET", "job-journal"): Row(ALL_READ),
    ("POST", "job-asfound"): Row(RECORD, readings(FOUND)),
    ("POST", "job-plan"): Row(RECORD, sent(gasket_next=mm("0.5")), State.FOUND),
    ("POST", "job-setup"): Row(RECORD, set_up, State.PLANNED),
    ("POST", "job-indicating"): Row(
        RECORD,
        sent(kind="indicated_tight", readings=gaps({0: "0.01", 180: "-0.01"})),
        State.SET_UP,
    ),
    ("POST", "job-correction"): Row(RECORD, sent(take=False), State.SET_UP),
    ("POST", "job-touchoff"): Row(
        RECORD,
        sent(dial=mm("2.0")),
        State.SET_UP,
        arrange=lambda shop, facts: (
            Bench.of(shop.operator)
            .post(f"jobs/{facts['number']}/skip", {"step": "indicating", "why": "Today"}, match="*")
            .json["version"]
        ),
    ),
    ("POST", "job-takepass"): Row(RECORD, sent(dial=mm("2.53")), State.CUT),
    ("POST", "job-achieved"): Row(RECORD, readings(EVEN), State.CUT),
    ("POST", "job-skip"): Row(RECORD, sent(step="as_found", why="Customer's own figures")),
    ("POST", "job-partschanged"): Row(RECORD, sent(why="New piston"), State.FOUND),
    ("POST", "job-cutagain"): Row(RECORD, sent(why="Customer wants less"), State.MEASURED),
    ("POST", "job-release"): Row(LEAD, sent(), State.MEASURED),
    ("POST", "job-concede"): Row(LEAD, sent(why="Owner agrees"), State.MEASURED),
    ("POST", "job-scrap"): Row(LEAD, sent(why="Cracked"), State.CUT),
    ("POST", "job-drop"): Row(RECORD, sent(why="Opened twice"), State.PLANNED),
    ("POST", "job-limits"): Row(RECORD, sent(why="Misread", target=mm("0.52")), State.FOUND),
    ("POST", "job-addreadings"): Row(
        RECORD,
        sent(readings=gaps({0: "1.02"}, piece=2)),
        State.FOUND,
        arrange=latest("set_id", ReadingSet),
    ),
    ("POST", "job-voidreading"): Row(
        RECORD,
        sent(why="Slipped", replacement=mm("1.03")),
        State.FOUND,
        arrange=latest("reading_id", Reading),
    ),
    ("POST", "job-voidpass"): Row(
        RECORD, sent(why="Misread"), State.CUT, arrange=latest("pass_id", Pass)
    ),
    **of_kind("fixtures", "fixture", sent(name="Plug B"), "re_indicated"),
    **of_kind("lathes", "lathe", sent(name="South lathe"), "repaired"),
    **of_kind(
        "edges",
        "edge",
        lambda shop, facts: {
            "lathe": shop.lathe.pk,
            "slot": "2",
            "name": "Insert 2",
            "edge_radius_um": 15,
        },
        "dressed",
    ),
    ("GET", "edge-correction"): Row(ALL_READ, arrange=number_of("edge")),
    **of_kind("gauges", "gauge", sent(name="Dial 1", step=mm("0.01")), "repaired"),
    ("GET", "gauge-checks"): Row(ALL_READ, arrange=number_of("gauge")),
    ("POST", "gauge-checks"): Row(
        MAKE,
        lambda shop, facts: {"standard": facts["standard"], "length": mm("0.501")},
        arrange=lambda shop, facts: facts.update(
            number=shop.gauge.pk, standard=make_standard(shop).pk
        ),
    ),
    ("POST", "gauge-check-void"): Row(RECORD, sent(why="Slipped"), arrange=gauge_checked),
    ("GET", "gauge-standing"): Row(ALL_READ, arrange=gauge_checked),
    ("GET", "standards"): Row(ALL_READ),
    ("POST", "standards"): Row(LEAD_MAKES, sent(name="Block 1", size=mm("1.000"))),
    ("GET", "standard"): Row(ALL_READ, arrange=standard_there),
    ("POST", "standard-retire"): Row(LEAD, sent(why="Nicked"), arrange=standard_there),
    ("GET", "gauge-studies"): Row(ALL_READ),
    ("POST", "gauge-studies"): Row(LEAD_MAKES, study_of),
    ("GET", "gauge-study"): Row(ALL_READ, arrange=study_opened),
    ("POST", "gauge-study-trials"): Row(
        MAKE, sent(turn=1, length=mm("0.501")), arrange=study_opened
    ),
    ("POST", "gauge-study-leave-out"): Row(RECORD, sent(why="Lost"), arrange=study_opened),
    ("POST", "gauge-study-void"): Row(RECORD, sent(why="Slipped"), arrange=study_read),
    ("POST", "gauge-study-close"): Row(LEAD, sent(why="Enough"), arrange=study_opened),
    ("POST", "gauge-study-take"): Row(LEAD, sent(why="Ours"), arrange=study_closed),
    ("POST", "gauge-study-set-aside"): Row(LEAD, sent(why="Old"), arrange=study_taken),
    ("GET", "families"): Row(ALL_READ),
    ("POST", "families"): Row(LEAD_MAKES, family),
    ("GET", "family"): Row(ALL_READ, arrange=number_of("family")),
    ("PATCH", "family"): Row(LEAD, sent(note="Old type"), arrange=number_of("family")),
    ("POST", "family-retire"): Row(LEAD, sent(why="No parts"), arrange=number_of("family")),
    ("GET", "cylinders"): Row(ALL_READ),
    ("POST", "cylinders"): Row(
        MAKE, lambda shop, facts: {"family": shop.family.pk, "serial": "C-9"}
    ),
    ("GET", "cylinder"): Row(ALL_READ, arrange=cylinder_number),
    ("GET", "fixture-chart"): Row(ALL_READ, state=State.MEASURED, arrange=number_of("fixture")),
    ("GET", "target-error-chart"): Row(ALL_READ, state=State.MEASURED),
    ("GET", "height-error-chart"): Row(ALL_READ, state=State.MEASURED),
    ("GET", "charts"): Row(ALL_READ, query="?channel=height_error", state=State.MEASURED),
    ("POST", "charts-rebuild"): Row(LEAD, sent(), State.MEASURED),
    ("GET", "baselines"): Row(ALL_READ, query="?channel=height_error"),
    ("POST", "baselines"): Row(
        LEAD_MAKES,
        lambda shop, facts: {
            "channel": "height_error",
            "first_job": min(facts["jobs"]),
            "last_job": max(facts["jobs"]),
            "why": "A good month",
        },
        State.MEASURED,
        arrange=a_dozen_jobs,
    ),
    ("POST", "baseline-give-up"): Row(
        LEAD, sent(why="New gauge"), State.MEASURED, arrange=frozen_limits
    ),
    ("GET", "rule-sets"): Row(ALL_READ),
    ("GET", "flags"): Row(ALL_READ, state=State.MEASURED, arrange=raise_flag),
    ("GET", "flag"): Row(ALL_READ, state=State.MEASURED, arrange=raise_flag),
    ("POST", "flag-look-into"): Row(RECORD, sent(), State.MEASURED, arrange=raise_flag),
    ("POST", "flag-close"): Row(
        LEAD, sent(state="cause_found", why="Burr"), State.MEASURED, arrange=raise_flag
    ),
    ("POST", "flag-finding"): Row(
        LEAD, sent(state="none_found", why="Seen"), State.MEASURED, arrange=cleared_flag
    ),
    ("GET", "fixture-re-indicated"): Row(ALL_READ, arrange=number_of("fixture")),
    ("POST", "fixture-re-indicated"): Row(
        MAKE, sent(as_left=mm("0.004")), arrange=number_of("fixture")
    ),
    ("POST", "fixture-re-indicated-correct"): Row(
        REPORTER, sent(as_left=mm("0.005")), arrange=reported_by_the_operator
    ),
    ("POST", "fixture-re-indicated-take-back"): Row(
        REPORTER, sent(), arrange=reported_by_the_operator
    ),
    ("POST", "flag-decide"): Row(LEAD, sent(answer="accepted"), State.MEASURED, arrange=raise_flag),
    ("GET", "recording-gains"): Row(ALL_READ),
    ("GET", "signals"): Row(ALL_READ),
    ("POST", "sums-plan"): Row(
        ALL_READ, sent(**SUM, gasket_found=mm("0.5"), gasket_next=mm("0.5"))
    ),
    ("POST", "sums-check"): Row(ALL_READ, sent(**SUM, tol_minus=mm("0.05"), tol_plus=mm("0.05"))),
    ("POST", "sums-burette"): Row(
        ALL_READ,
        lambda shop, facts: {"filled_cc": 6.6, "plug_well_cc": 0.5, "family": shop.family.pk},
    ),
    ("POST", "sums-indicating"): Row(ALL_READ, sent(readings=gaps(FOUND))),
    ("POST", "sums-clocking"): Row(
        ALL_READ,
        sent(first=dict(RUN, clocking_deg=0), second=dict(RUN, clocking_deg=180)),
    ),
    ("GET", "capability"): Row(ALL_READ, state=State.MEASURED),
    ("GET", "shifts"): Row(ALL_READ, state=State.MEASURED),
    ("POST", "sums-chart-designs"): Row(
        ALL_READ, sent(shift=mm("0.02"), sigma=mm("0.01"), jobs_per_month=25)
    ),
    ("POST", "chart-design"): Row(
        LEAD, sent(shift=mm("0.02"), sigma=mm("0.01"), chart="cusum", why="Sooner")
    ),
    ("POST", "sums-cutting"): Row(
        ALL_READ, sent(diameter=mm("64"), edge_radius_um=20, nose_radius=mm("0.4"))
    ),
}
# The description of the API is for anyone; what is nowhere is nowhere for anyone.
OPEN_TO_ALL = {"schema", None}


def patterns(resolver: Any = None, path: str = "") -> Iterator[tuple[str, URLPattern]]:
    for one in (resolver or get_resolver()).url_patterns:
        here = path + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from patterns(one, here)
        elif here.startswith("api/"):
            yield here, one


ADDRESSES = {one.name: path for path, one in patterns()}


def test_every_address_is_in_the_table() -> None:
    served = {
        (method.upper(), one.name)
        for _, one in patterns()
        if one.name not in OPEN_TO_ALL
        for method in ("get", "post", "put", "patch", "delete")
        if hasattr(one.callback.cls, method)  # type: ignore[attr-defined]
    }
    assert served == set(TABLE)
    assert {None, "schema"} <= set(ADDRESSES)


def test_every_write_may_be_sent_again() -> None:
    once = {
        one.name
        for _, one in patterns()
        if one.name not in OPEN_TO_ALL
        for method in ("post", "put", "patch", "delete")
        if hasattr(getattr(one.callback.cls, method, None), "happens_once")  # type: ignore[attr-defined]
    }
    writes = {name for method, name in TABLE if method != "GET"}
    assert once == {name for name in writes if not name.startswith("sums-")}


@pytest.mark.parametrize(("method", "name"), TABLE)
def test_who_may(method: str, name: str, shop: Shop) -> None:
    row = TABLE[method, name]
    job = make_job(shop, state=row.state, at=NOON - timedelta(days=1))
    facts: Facts = {"number": job.pk}
    row.arrange(shop, facts)
    path = ADDRESSES[name]
    for part in ("number", "set_id", "reading_id", "pass_id", "check_id", "turn", "report_id"):
        path = path.replace(f"<int:{part}>", str(facts.get(part, "")))
    path += row.query
    body = row.body(shop, facts)
    headers = {} if method == "GET" else {"If-Match": "*"}
    benches = [Bench(None), *map(Bench.of, (shop.viewer, shop.operator, shop.lead))]
    answered = []
    for bench in benches:
        with transaction.atomic():
            answer = bench.send(method, path.removeprefix("api/v1/"), body, headers=headers)
            transaction.set_rollback(True)
        answered.append(answer.status_code)
    assert dict(zip(ROLES, answered, strict=True)) == dict(zip(ROLES, row.statuses, strict=True)), (
        answer.content
    )
