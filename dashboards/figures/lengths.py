"""How drawings and pages write lengths: the way of qc.shown, which e-mails write by too."""

from qc.shown import ABSENT, MINUS, NO_BREAK, SHOWN, ShownUnit, whole_degrees

__all__ = ["ABSENT", "MINUS", "NO_BREAK", "SHOWN", "ShownUnit", "whole_degrees"]
