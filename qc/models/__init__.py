"""The shop's tables, one subject a file."""

from qc.models.charts import Baseline, ChartKind, ChartMark, StoredChart
from qc.models.decisions import Answer, Decision, Recommended
from qc.models.engines import Cylinder, EngineFamily, PortWindow
from qc.models.flag_findings import FOUND, Finding, FlagCheck
from qc.models.flags import ABOUT, OPEN_FLAG, DriftChannel, Flag, FlagState
from qc.models.gauge_studies import GaugeStudy, Repeats, StudyReading, StudyTurn, StudyUse
from qc.models.jobs import BEFORE_CUT, CLOSED, Job, Pass, Round, SkippedStep, State, Step
from qc.models.journal import JournalEntry
from qc.models.monitoring import Channel, Rule, Signal
from qc.models.notices import DECISIONS, ENDS, Happening, Notice, Webhook
from qc.models.outbox import Heartbeat, OutboxItem
from qc.models.people import BenchToken, FailedSignIns, Person, Role, powers
from qc.models.policy import ChartsBy, RuleSet, ShopPolicy
from qc.models.readings import GAP_KINDS, INDICATED, SIGNED_KINDS, Kind, Reading, ReadingSet
from qc.models.reports import Reindication
from qc.models.resources import (
    CauseFound,
    Fixture,
    Gauge,
    Lathe,
    Resource,
    ServiceEvent,
    ServiceKind,
    ToolEdge,
)
from qc.models.results import JobResult, VerdictKind
from qc.models.standards import GaugeCheck, Standard

__all__ = [
    "ABOUT",
    "BEFORE_CUT",
    "CLOSED",
    "DECISIONS",
    "ENDS",
    "FOUND",
    "GAP_KINDS",
    "INDICATED",
    "OPEN_FLAG",
    "SIGNED_KINDS",
    "Answer",
    "Baseline",
    "BenchToken",
    "CauseFound",
    "Channel",
    "ChartKind",
    "ChartMark",
    "ChartsBy",
    "Cylinder",
    "Decision",
    "DriftChannel",
    "EngineFamily",
    "FailedSignIns",
    "Finding",
    "Fixture",
    "Flag",
    "FlagCheck",
    "FlagState",
    "Gauge",
    "GaugeCheck",
    "GaugeStudy",
    "Happening",
    "Heartbeat",
    "Job",
    "JobResult",
    "JournalEntry",
    "Kind",
    "Lathe",
    "Notice",
    "OutboxItem",
    "Pass",
    "Person",
    "PortWindow",
    "Reading",
    "ReadingSet",
    "Recommended",
    "Reindication",
    "Repeats",
    "Resource",
    "Role",
    "Round",
    "Rule",
    "RuleSet",
    "ServiceEvent",
    "ServiceKind",
    "ShopPolicy",
    "Signal",
    "SkippedStep",
    "Standard",
    "State",
    "Step",
    "StoredChart",
    "StudyReading",
    "StudyTurn",
    "StudyUse",
    "ToolEdge",
    "VerdictKind",
    "Webhook",
    "powers",
]
