"""How much evidence a flag needs, so that false flags come no oftener than the shop wishes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from qc.errors import BadInput
from qc.numerics.drift.channel_settings import ChannelSettings

# How the wished false flags are shared among the channels.
SHARES = {"tilt": 0.43, "height": 0.45, "spread": 0.12}
# The log offsets are those of one false flag in so many jobs; elsewhere false flags a job fall as
# the evidence asked for to this power. Both by simulation, this one from paces of 60 to 1000 jobs
# a false flag.
SET_AT_JOBS = 250.0
TAIL_POWER = 1.12


@dataclass(frozen=True)
class Budget:
    """false_flags in so many jobs of the shop, over all its resources and channels together.

    shares: of the false flags, what each channel may raise; together 1.

    Raises BadInput unless both are more than 0, and every channel has its share.
    """

    false_flags: float = 1.0
    jobs: float = 250.0
    shares: dict[str, float] = field(default_factory=lambda: dict(SHARES))

    def __post_init__(self) -> None:
        if not (self.false_flags > 0 and self.jobs > 0):
            raise BadInput(why="The false flags wished and their jobs must be above 0.")
        each = self.shares
        if set(each) != set(SHARES) or not min(each.values()) > 0 or not sum(each.values()) < 1.001:
            raise BadInput(
                why=f"Give {', '.join(SHARES)} each a share above 0, together no more than 1."
            )

    def threshold(self, settings: ChannelSettings) -> float:
        """The log evidence above which this channel flags.

        A sum over onsets grows, in the mean, by its weight with each job while nothing moves
        (Shiryaev and Roberts, from memory), so the jobs between false flags go nearly with the
        evidence asked for; what is left to find by simulation is one number a channel, and how
        nearly.
        """
        usual = math.log(SET_AT_JOBS / self.shares[settings.name]) + settings.log_offset
        return usual + math.log(self.jobs / (self.false_flags * SET_AT_JOBS)) / TAIL_POWER
