"""One channel between jobs: what it knows, and what it knows given that the open flags are right.

While a flag is open nobody has said whether it is right, and the jobs after it still tell its
suspects apart: the state it was raised from keeps its story. What else moves meanwhile is looked
for in a second state, in which the flag's story is granted as it was believed; and so on, one state
more for each open flag.

Something may be put right while a flag that suspects it stays open, to see what the next jobs read.
Whether it had moved is then a question about what it was until then, and so it gets a second place
there, that no job uses any more: what was held against it moves there and is weighed on by what it
left behind, until the flag is closed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from qc.numerics.drift.bank import CHECKED, CLOSED, MENDED, RENEWED, RULED_OUT, SERVICED
from qc.numerics.drift.channel import act
from qc.numerics.drift.channel_settings import RIVAL_WALK, ChannelSettings, SettingArrays, as_arrays
from qc.numerics.drift.granting import grant
from qc.numerics.drift.hypotheses import forget_hypotheses
from qc.numerics.drift.state import HYPOTHESES, RESOURCES, STATES, ChannelState, copied, with_room
from qc.numerics.drift.suspects import (
    COULD_WELL_BE,
    Key,
    as_before,
    called,
    probabilities,
    suspected,
)
from qc.numerics.results import IntArray


@dataclass(eq=False)
class OpenFlag:
    """place: of the resource it was raised about. granted: the channel's state given what it says.
    is_ruled_out: that one was found in order, and the flag stayed open for the others."""

    place: int
    granted: ChannelState
    is_ruled_out: bool = False


@dataclass(eq=False)
class ChannelWatch:
    """state: with no open flag's story granted. open: the open flags, oldest first; each story is
    told by the state before its own. keys: which resource is at which place."""

    settings: ChannelSettings
    state: ChannelState
    keys: list[Key] = field(default_factory=list)
    open: list[OpenFlag] = field(default_factory=list)

    @property
    def arrays(self) -> SettingArrays:
        return as_arrays(self.settings)

    @property
    def states(self) -> list[ChannelState]:
        return [self.state, *(one.granted for one in self.open)]

    @property
    def newest(self) -> ChannelState:
        """Given every open flag's story: what would raise the next flag."""
        return self.states[-1]

    def about(self, kind: str, resource: int) -> ChannelWatch:
        """This channel as it judges one resource, with no open flags: in the story of the first
        open flag that could well be about it, else with every open flag's story granted."""
        key = (kind, resource)
        place = self.keys.index(key) if key in self.keys else -1
        told = (state for flag, state in self._stories() if place in self._told_of(flag, state))
        return ChannelWatch(self.settings, next(told, self.newest), self.keys)

    def story(self, kind: str, resource: int) -> ChannelWatch:
        """This channel as it judges the open flag about this resource, with no open flags.

        Raises KeyError where none is open about it.
        """
        for flag, state in self._stories():
            if self.keys[flag.place] == (kind, resource):
                return ChannelWatch(self.settings, state, self.keys)
        raise KeyError((kind, resource))

    def held_at(self, place: int) -> int:
        """Where what is held against a resource lies: at the place of what it was, where it was put
        right while a flag suspects it."""
        return next(iter(self._held_before(self.state, place)), place)

    def _held_before(self, state: ChannelState, place: int) -> list[int]:
        """The place of what it was, if anything is held there."""
        before = as_before(self.keys[place])
        held = {self.keys[at] for at in state.who[: state.counts[HYPOTHESES]].tolist()}
        return [self.keys.index(before)] if before in held else []

    def is_told(self, place: int) -> bool:
        """Whether an open flag is about it, or could well be by now."""
        return any(place in self._told_of(flag, state) for flag, state in self._stories())

    def _stories(self) -> Iterator[tuple[OpenFlag, ChannelState]]:
        return zip(self.open, self.states, strict=False)

    def _told_of(self, flag: OpenFlag, state: ChannelState) -> set[int]:
        chances = probabilities(state, self.arrays)
        well = [self.keys[at] for at in np.flatnonzero(chances >= COULD_WELL_BE)]
        return {flag.place, *(self.keys.index(called(key)) for key in well)}

    def places(self, kind: str, ids: IntArray) -> IntArray:
        """Each id's place, -1 for none. Every id must have been seen."""
        known = [(one[1], at) for at, one in enumerate(self.keys) if one[0] == kind]
        if not known:
            return np.full(ids.size, -1, dtype=np.int64)
        names, at = (np.array(column) for column in zip(*sorted(known), strict=True))
        found = np.minimum(np.searchsorted(names, ids), names.size - 1)
        return np.where(names[found] == ids, at[found], -1)

    def meet(self, seen: Sequence[Key]) -> None:
        """Give each resource not seen before its place, in this order."""
        known = set(self.keys)
        new = [key for key in dict.fromkeys(seen) if key not in known]
        if not new:
            return
        wanted = len(self.keys) + len(new)
        self.state = self._met(self.state, new, wanted)
        for flag in self.open:
            flag.granted = self._met(flag.granted, new, wanted)
        self.keys += new

    def _met(self, state: ChannelState, new: Sequence[Key], wanted: int) -> ChannelState:
        d, kinds = self.settings.deltas, [kind.name for kind in self.settings.kinds]
        room = wanted if wanted <= state.own.size else max(wanted, 2 * state.own.size)
        state = with_room(state, deltas=d, resources=room)
        for at, key in enumerate(new, start=len(self.keys)):
            kind, row = kinds.index(key[0]), int(state.counts[STATES])
            state.kind[at] = kind
            state.prior_var[at] = self.settings.kinds[kind].sd ** 2
            state.rival_walk[at] = RIVAL_WALK if self.settings.kinds[kind].wanders else 1.0
            for p in (state.p, state.rival_p):
                p[range(row, row + d), range(row, row + d)] = state.prior_var[at]
            state.counts[RESOURCES] += 1
            state.counts[STATES] += d
        return state

    def hold(self, place: int) -> None:
        """Keep the flag just raised about this place open."""
        granted = copied(self.newest)
        grant(granted, self.arrays)
        self.open.append(OpenFlag(place, granted))

    def act(self, what: int, place: int) -> None:
        """Something was done about the resource at this place; see Event for what may be."""
        if what == RENEWED:
            self._set_before_apart(place)
        ended = [one for one in self.open if self._ends(one, what, place)]
        # What was put right while its flag stayed open is right since then.
        is_right = what == MENDED and any(
            self._held_before(self._told_by(one), place) for one in ended
        )
        for flag in ended:
            self._close(flag, what, place)
        for flag in self.open:
            flag.is_ruled_out |= what == RULED_OUT and flag.place == place
        for state in self.states:
            if not is_right:
                act(state, what, place, self.arrays)
            if what not in (CLOSED, RENEWED):
                for before in self._held_before(state, place):
                    forget_hypotheses(state, before)
        self._ask_no_more_of_what_was()

    def _ask_no_more_of_what_was(self) -> None:
        """What a resource was before it was put right is in question in open flags' stories alone:
        the newest state, which looks for the next flag, would raise one that nothing ends."""
        for place, key in enumerate(self.keys):
            if key != called(key):
                forget_hypotheses(self.newest, place)

    def _set_before_apart(self, place: int) -> None:
        """In every open flag's story what is held against it is held against what it was."""
        if not self.open:
            return
        before = as_before(self.keys[place])
        self.meet([before])
        for _, state in self._stories():
            if not self._held_before(state, place):
                who = state.who[: state.counts[HYPOTHESES]]
                who[who == place] = self.keys.index(before)

    def _told_by(self, flag: OpenFlag) -> ChannelState:
        return self.states[self.open.index(flag)]

    def _ends(self, flag: OpenFlag, what: int, place: int) -> bool:
        if what == MENDED:
            state = self._told_by(flag)
            told = {self.keys[at] for at in (flag.place, *suspected(state, self.arrays))}
            return self.keys[place] in {called(key) for key in told}
        if what == SERVICED:
            return flag.place == place and not flag.is_ruled_out
        return what in (CHECKED, CLOSED) and flag.place == place

    def _close(self, flag: OpenFlag, what: int, place: int) -> None:
        """What is known once its story has ended: that nothing of it was so, where the resource was
        found in order; that it was as believed, where that was set right; or that this one was it,
        unless a later flag's story rests on what was believed.
        """
        at = self.open.index(flag)
        is_last = at == len(self.open) - 1
        known = flag.granted
        if what == CHECKED or (what == MENDED and is_last):
            known = self.states[at]
        if what == MENDED and is_last:
            held_at = next(iter(self._held_before(known, place)), place)
            grant(known, self.arrays, place=held_at)
        del self.open[at]
        if at == 0:
            self.state = known
        else:
            self.open[at - 1].granted = known
