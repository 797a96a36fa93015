"""A shop's settings for the suggested dial correction."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.checks import require_between, require_length_mm


@dataclass(frozen=True)
class CorrectionPolicy:
    """Shop settings, mm. Defaults suit the invented demonstration shop, not any real one.

    noise_mm: job-to-job scatter to expect, worth noise_jobs jobs of the shop's own. bias_mm: how
    far a lathe and edge are typically off. wander_mm: how much that moves from one job to the next.
    dead_band_mm, surety: a bias is answered once above both the dead band and surety times its
    uncertainty. most_mm: never correct by more. step_mm: what the dial can be set to.
    """

    noise_mm: float = 0.020
    noise_jobs: int = 20
    bias_mm: float = 0.020
    wander_mm: float = 0.001
    dead_band_mm: float = 0.010
    surety: float = 2.0
    fewest_jobs: int = 8
    most_mm: float = 0.050
    step_mm: float = 0.005

    def __post_init__(self) -> None:
        for name in ("noise_mm", "bias_mm", "most_mm", "step_mm"):
            require_length_mm(getattr(self, name), what=f"The setting {name}", above_zero=True)
        for name in ("wander_mm", "dead_band_mm"):
            require_length_mm(getattr(self, name), what=f"The setting {name}")
        require_between(self.surety, what="The surety", lowest=0.0, highest=10.0)
        require_between(self.noise_jobs, what="The noise's worth (jobs)", lowest=1, highest=1000)
        require_between(self.fewest_jobs, what="The fewest jobs", lowest=1, highest=1000)
