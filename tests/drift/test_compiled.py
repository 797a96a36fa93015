"""Compiled and plain sums say the same. Runs where numba is in use, as in a step of deploy/test."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from qc.numerics.drift import Budget, Watch
from qc.numerics.drift.jit import IS_COMPILED
from qc.numerics.drift.state import trimmed
from tests.drift.shop import Change, season

# Where compiled sums are asked for outright, as by that step, they must be there.
IS_ASKED = os.environ.get("SQUISH_DRIFT_COMPILED") == "1"
pytestmark = pytest.mark.skipif(
    not IS_COMPILED and not IS_ASKED, reason="numba is set aside or not installed"
)

SCRIPT = "import pickle, sys; from tests.drift.test_compiled import told; "
SCRIPT += "sys.stdout.buffer.write(pickle.dumps(told()))"


def told():
    """The flags of a shop with a knock, and every number of the three states after it."""
    one = season(4_300_000, n=200, change=Change("fixture", 0.040))
    watch = Watch(budget=Budget(), on_flag="hold")
    flags = watch.take(one.jobs, events=one.events)
    states = [trimmed(state) for each in watch.channels.values() for state in each.states]
    return flags, [array for state in states for array in state]


def test_the_same_flags_and_states_within_rounding():
    assert IS_COMPILED, "numba is not installed"
    root = Path(__file__).parents[2]
    plain = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        cwd=root,
        env={**os.environ, "SQUISH_DRIFT_COMPILED": "0"},
        check=True,
        capture_output=True,
    )
    flags, numbers = pickle.loads(plain.stdout)
    ours, arrays = told()
    assert [(flag.job, flag.channel, flag.likeliest.resource) for flag in ours] == [
        (flag.job, flag.channel, flag.likeliest.resource) for flag in flags
    ]
    assert ours
    for got, want in zip(arrays, numbers, strict=True):
        np.testing.assert_allclose(got, want, rtol=1e-7, atol=1e-10)
