"""Accept, cut again, undecided or reject: the judgement of an achieved gap."""

from qc.numerics.verdict.codes import ACCEPT, CUT_AGAIN, KINDS, REJECT, UNDECIDED, verdict_codes
from qc.numerics.verdict.judge import GUARD_FACTOR, judge
from qc.numerics.verdict.many import judge_many

__all__ = [
    "ACCEPT",
    "CUT_AGAIN",
    "GUARD_FACTOR",
    "KINDS",
    "REJECT",
    "UNDECIDED",
    "judge",
    "judge_many",
    "verdict_codes",
]
