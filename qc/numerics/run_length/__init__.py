"""How many jobs a chart runs before it signals, and the limits that give a wished number.

The average run length (ARL) counts jobs up to and including the one that signals. In control it
says how rare false flags are; `pace` puts that into a shop's own months, `design` finds charts for
a wish in those words. A `Chain` also gives the distribution, quantiles, and the run length of a
shift that comes after a long time in control.
"""

from qc.numerics.run_length.chain import Chain, arl_after_settling
from qc.numerics.run_length.cusum import cusum_arl, cusum_chain, cusum_limit, siegmund_arl
from qc.numerics.run_length.design import (
    ChartDesign,
    cusum_design,
    design_charts,
    ewma_design,
    pair_design,
)
from qc.numerics.run_length.distribution import RunLength
from qc.numerics.run_length.ewma import (
    PairWidths,
    ewma_arl,
    ewma_arl_after_settling,
    ewma_chain,
    ewma_width,
    individuals_ewma_arl,
    individuals_ewma_chain,
    individuals_ewma_widths,
    widening_run_length,
)
from qc.numerics.run_length.individuals import individuals_arl, individuals_width
from qc.numerics.run_length.mewma import limit_for_false_flags, mewma_arl, mewma_limit
from qc.numerics.run_length.outlook import (
    Outlook,
    cusum_outlook,
    ewma_outlook,
    individuals_outlook,
)
from qc.numerics.run_length.pace import pace_sentence
from qc.numerics.run_length.rule_sets import rule_arl, rule_chain, rule_run_length

__all__ = [
    "Chain",
    "ChartDesign",
    "Outlook",
    "PairWidths",
    "RunLength",
    "arl_after_settling",
    "cusum_arl",
    "cusum_chain",
    "cusum_design",
    "cusum_limit",
    "cusum_outlook",
    "design_charts",
    "ewma_arl",
    "ewma_arl_after_settling",
    "ewma_chain",
    "ewma_design",
    "ewma_outlook",
    "ewma_width",
    "individuals_arl",
    "individuals_ewma_arl",
    "individuals_ewma_chain",
    "individuals_ewma_widths",
    "individuals_outlook",
    "individuals_width",
    "limit_for_false_flags",
    "mewma_arl",
    "mewma_limit",
    "pace_sentence",
    "pair_design",
    "rule_arl",
    "rule_chain",
    "rule_run_length",
    "siegmund_arl",
    "widening_run_length",
]
