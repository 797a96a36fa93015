"""Every statistics case; the test id shows tolerance and source. Notes name the conventions."""

import pytest

from qc.errors import ShopError
from tests.reference.adapters import ADAPTERS
from tests.reference.cases import statistics_cases


@pytest.mark.parametrize(("topic", "case"), statistics_cases())
def test_statistics(topic, case):
    if case.refusal:
        with pytest.raises(ShopError):
            ADAPTERS[topic](case)
    else:
        got = ADAPTERS[topic](case)
        case.check(**{name: got[name] for name in case.expected})
