"""The height error to expect of a lathe and edge, and its scatter, learnt one job at a time.

A local-level filter: the bias wanders a little from job to job, starts anew at a service event, and
is shrunk toward zero until jobs speak for it. In the long run it is an EWMA with lambda near
wander / noise. Source: R. E. Kalman's filter and P. J. Huber's bound (both memory).
"""

from __future__ import annotations

import math

OUTLYING = 3.0
"""A job farther out than this many standard deviations pulls no harder than one just there."""


class BiasLearner:
    """level_mm: expected height error, positive = gap wider; jobs: learnt from since it began.

    noise_mm: scatter to expect before any job, worth noise_jobs jobs. bias_mm: the level's spread
    (standard deviation) where it begins. wander_mm: that of its step from one job to the next.
    """

    def __init__(
        self, *, noise_mm: float, noise_jobs: float, bias_mm: float, wander_mm: float
    ) -> None:
        self._squares = noise_jobs * noise_mm**2
        self._weight = float(noise_jobs)
        self._bias_mm, self._wander_mm = bias_mm, wander_mm
        self.begin()

    def begin(self) -> None:
        """Forget the level, as after a service event. The scatter learnt so far stays."""
        self.level_mm, self._variance, self.jobs = 0.0, self._bias_mm**2, 0
        self._last_mm: float | None = None

    @property
    def u_level_mm(self) -> float:
        return math.sqrt(self._variance)

    @property
    def noise_mm(self) -> float:
        return math.sqrt(self._squares / self._weight)

    def learn(self, height_error_mm: float) -> None:
        self._learn_noise(height_error_mm)
        surprise = height_error_mm - self.level_mm
        spread = self._variance + self.noise_mm**2
        spread *= max(1.0, abs(surprise) / (OUTLYING * math.sqrt(spread)))
        gain = self._variance / spread
        self.level_mm += gain * surprise
        self._variance = self._variance * (1 - gain) + self._wander_mm**2
        self.jobs += 1

    def _learn_noise(self, height_error_mm: float) -> None:
        # Half the square of neighbours' difference is the noise, whatever the bias.
        if self._last_mm is not None:
            square = (height_error_mm - self._last_mm) ** 2 / 2
            self._squares += min(square, (OUTLYING * self.noise_mm) ** 2)
            self._weight += 1
        self._last_mm = height_error_mm
