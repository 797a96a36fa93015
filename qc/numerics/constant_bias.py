"""A constant vector bias read with noise: what is known after each reading, how surprising each
reading was, and where the bias most likely changed.

Readings y_i = b + e_i in p dimensions, b ~ N(0, prior_var I), e_i ~ N(0, noise_var I) independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.numerics.results import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Onset:
    """first: index of the first reading after the change, by greatest likelihood.

    earliest..latest: the least interval about `first` holding 90 % of the chance.
    before, after: the bias on either side; after_var: variance of `after` on each axis.
    """

    first: int
    earliest: int
    latest: int
    before: FloatArray
    after: FloatArray
    after_var: float


def posterior(
    total: FloatArray, count: IntArray, *, noise_var: float, prior_var: float
) -> tuple[FloatArray, FloatArray]:
    """Mean (m, p) and variance (m,) of the bias given `count` readings that add up to `total`."""
    var = 1 / (1 / prior_var + count / noise_var)
    return total * (var / noise_var)[:, None], var


def surprises(y: FloatArray, mean: FloatArray, var: FloatArray, *, noise_var: float) -> FloatArray:
    """(y - mean) / sd of that difference, shape (m, p)."""
    return np.asarray((y - mean) / np.sqrt(noise_var + var)[:, None])


class ConstantBias:
    """What a stretch of readings says of its bias.

    mean[k], var[k]: of b given the first k readings, shapes (n + 1, p) and (n + 1,).
    surprise[i]: (y_i - mean[i]) / sd of that difference, shape (n, p); independent N(0, I).
    """

    def __init__(self, y: FloatArray, *, noise_var: float, prior_var: float) -> None:
        n, p = y.shape
        self._noise_var = noise_var
        self._sum = np.vstack([np.zeros((1, p)), np.cumsum(y, axis=0)])
        self.mean, self.var = posterior(
            self._sum, np.arange(n + 1), noise_var=noise_var, prior_var=prior_var
        )
        self.surprise = surprises(y, self.mean[:-1], self.var[:-1], noise_var=noise_var)

    def onset(self, *, upto: int, shift_var: float) -> Onset:
        """The change nearest to the first `upto` readings' likelihood, upto >= 1.

        A change before the first reading counts: then `before` is the prior's zero. For each
        candidate the readings before give N(m, v I), those after their mean a; the likelihood
        ratio is exp(|a - m|^2 / (2 s)), s = v + noise_var / count. The chance of each also weighs
        a shift by N(0, shift_var I), every reading being as likely a start.
        """
        before, var = self.mean[:upto], self.var[:upto]
        count = np.arange(upto, 0, -1)
        after = (self._sum[upto] - self._sum[:upto]) / count[:, None]
        s = var + self._noise_var / count
        distance = ((after - before) ** 2).sum(axis=1)
        first = int(np.argmax(distance / s))
        p = before.shape[1]
        log_weight = distance / 2 * (1 / s - 1 / (s + shift_var)) - p / 2 * np.log1p(shift_var / s)
        earliest, latest = _interval_about(first, np.exp(log_weight - log_weight.max()), 0.9)
        return Onset(
            first=first,
            earliest=earliest,
            latest=latest,
            before=before[first],
            after=after[first],
            after_var=float(self._noise_var / count[first]),
        )


def _interval_about(centre: int, weight: FloatArray, share: float) -> tuple[int, int]:
    """The indices reached by widening from `centre` toward the heavier neighbour."""
    low = high = centre
    held, wanted = weight[centre], share * weight.sum()
    while held < wanted and (low > 0 or high < weight.size - 1):
        left = weight[low - 1] if low > 0 else -1.0
        right = weight[high + 1] if high < weight.size - 1 else -1.0
        if left >= right:
            low, held = low - 1, held + left
        else:
            high, held = high + 1, held + right
    return low, high
