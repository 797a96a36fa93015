"""Compile a sum when numba is installed; run it as it stands otherwise.

The compiled sums use only array expressions that NumPy and numba both know, so one source serves
both and their answers differ by rounding alone.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

Sum = TypeVar("Sum", bound=Callable[..., Any])

try:
    if os.environ.get("SQUISH_DRIFT_COMPILED", "1") == "0":
        raise ImportError
    from numba import config, njit
except ImportError:
    njit = None
else:
    # Compiled sums are kept for the next start under the digest of their sources: numba itself
    # looks only at the file of the function it is asked for, not at those it calls.
    _sources = sorted(Path(__file__).parent.glob("*.py"))
    _digest = sha256(b"".join(source.read_bytes() for source in _sources)).hexdigest()[:16]
    config.CACHE_DIR = str(Path(__file__).parent / "__pycache__" / f"compiled-{_digest}")

_IS_KEPT = os.access(Path(__file__).parent, os.W_OK)
IS_COMPILED = njit is not None


def compiled(sum_: Sum) -> Sum:
    """The same function, compiled where numba is installed."""
    return sum_ if njit is None else njit(cache=_IS_KEPT, error_model="numpy")(sum_)
