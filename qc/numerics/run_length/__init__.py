"""How many jobs a chart runs before it signals, and the limits that give a wished number.

The average run length (ARL) counts jobs up to and including the one that signals. In control it
says how rare false flags are; `pace` puts that into a shop's own months.
"""

from qc.numerics.run_length.ewma import (
    PairWidths,
    ewma_arl,
    ewma_width,
    individuals_ewma_arl,
    individuals_ewma_widths,
)
from qc.numerics.run_length.individuals import individuals_arl, individuals_width
from qc.numerics.run_length.mewma import limit_for_false_flags, mewma_arl, mewma_limit
from qc.numerics.run_length.pace import pace_sentence

__all__ = [
    "PairWidths",
    "ewma_arl",
    "ewma_width",
    "individuals_arl",
    "individuals_ewma_arl",
    "individuals_ewma_widths",
    "individuals_width",
    "limit_for_false_flags",
    "mewma_arl",
    "mewma_limit",
    "pace_sentence",
]
