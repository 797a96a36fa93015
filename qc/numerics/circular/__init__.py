"""Do directions, or vectors, point one way more than chance would have it? And the best circle."""

from qc.numerics.circular.circle import CircleFit, fit_circle
from qc.numerics.circular.directions import (
    Directions,
    VTest,
    directions,
    rayleigh_p_exact,
    v_test,
)
from qc.numerics.circular.mean_vector import MeanVector, mean_vector

__all__ = [
    "CircleFit",
    "Directions",
    "MeanVector",
    "VTest",
    "directions",
    "fit_circle",
    "mean_vector",
    "rayleigh_p_exact",
    "v_test",
]
