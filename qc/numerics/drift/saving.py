"""A watch as text, and back again to the bit, so that it can be kept between jobs."""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from types import ModuleType
from typing import Any

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift import (
    channel_settings,
    defaults,
    filtering,
    onsets,
    suspects,
    thresholds,
)
from qc.numerics.drift.channel_watch import ChannelWatch, OpenFlag
from qc.numerics.drift.state import ChannelState, as_plain, with_room
from qc.numerics.drift.thresholds import Budget
from qc.numerics.drift.watch import DOUBTED_AT, Watch

LAYOUT = 4
ASSUMING = (channel_settings, defaults, filtering, onsets, suspects, thresholds)
_LITTLE = {"i": "<i8", "f": "<f8"}


def sums_mark() -> str:
    """Changes with whatever a kept state rests on: its layout, and all that the sums assume.

    A state kept under another mark is no longer what the jobs would lead to; run them again.
    """
    assumed = [_constants(one) for one in ASSUMING]
    told = repr((LAYOUT, ChannelState._fields, assumed, DOUBTED_AT))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _constants(module: ModuleType) -> list[tuple[str, Any]]:
    return [
        (name, one.tolist() if isinstance(one, np.ndarray) else one)
        for name, one in sorted(vars(module).items())
        if name.isupper()
    ]


def saved(watch: Watch) -> str:
    """ASCII text: a length, a JSON head and the arrays, little-endian, packed and in base 64."""
    head: dict[str, Any] = {"mark": sums_mark(), "channels": {}}
    body = b""
    for name, channel in watch.channels.items():
        states = [as_plain(state) for state in channel.states]
        head["channels"][name] = {
            "keys": channel.keys,
            "open": [[flag.place, flag.is_ruled_out] for flag in channel.open],
            "states": [
                [[key, _LITTLE[a.dtype.kind], a.shape] for key, a in arrays.items()]
                for arrays in states
            ],
        }
        for arrays in states:
            for array in arrays.values():
                body += array.astype(_LITTLE[array.dtype.kind]).tobytes()
    told = json.dumps(head, separators=(",", ":")).encode()
    packed = zlib.compress(len(told).to_bytes(4, "little") + told + body, level=1)
    return base64.b64encode(packed).decode("ascii")


def restored(text: str, *, budget: Budget) -> Watch:
    """The watch that `saved` wrote down; it holds flags open until an event that ends them.

    Raises BadInput for text kept under another `sums_mark`.
    """
    whole = zlib.decompress(base64.b64decode(text))
    size = 4 + int.from_bytes(whole[:4], "little")
    head = json.loads(whole[4:size])
    if head["mark"] != sums_mark():
        raise BadInput(why="This state was kept by other sums: run its jobs again.")
    watch = Watch(budget=budget)
    at = size
    for name, told in head["channels"].items():
        states = []
        for layout in told["states"]:
            arrays = {}
            for key, dtype, shape in layout:
                count = int(np.prod(shape))
                flat = np.frombuffer(whole, dtype=dtype, count=count, offset=at)
                arrays[key] = flat.astype(np.dtype(dtype).newbyteorder("=")).reshape(shape)
                at += 8 * count
            states.append(ChannelState(**arrays))
        _fill(watch.channels[name], states, told)
    return watch


def _fill(channel: ChannelWatch, states: list[ChannelState], told: dict[str, Any]) -> None:
    """Give a fresh channel its states, with the spare room that hypotheses are made in."""
    channel.keys = [(kind, key) for kind, key in told["keys"]]
    channel.state, *granted = (
        with_room(state, deltas=channel.settings.deltas, resources=len(channel.keys))
        for state in states
    )
    channel.open = [
        OpenFlag(place, state, is_ruled_out)
        for (place, is_ruled_out), state in zip(told["open"], granted, strict=True)
    ]
