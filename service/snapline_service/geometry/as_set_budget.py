"""What the uncertainty of an adjusted quantity is made of: the tape, and parts of the marks' covariance."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.as_set_distances import Distances
from snapline_service.geometry.as_set_values import Distance
from snapline_service.geometry.least_squares import Adjustment

Array = NDArray[np.float64]


def weights_of(row: Array, fitted: Adjustment) -> Array:
    """Return what each observation adds to a quantity that is linear in the parameters."""
    weights = fitted.whitening.T @ fitted.whitening
    return np.asarray(row @ fitted.covariance @ fitted.slopes.T @ weights)


def by_marks(row: Array, model: Distances, fitted: Adjustment) -> Array:
    """Return what an error of each coordinate of the marks does to such a quantity."""
    return np.asarray(-weights_of(row, fitted) @ model.spread(fitted.at))


def variances(
    row: Array,
    model: Distances,
    fitted: Adjustment,
    distances: Sequence[Distance],
    parts_mm2: Mapping[str, Array],
) -> dict[str, float]:
    """Return the variance of such a quantity by where it comes from: 'tape', and each part of the marks."""
    tape = weights_of(row, fitted) ** 2 @ np.array([one.u_mm**2 for one in distances])
    moved = by_marks(row, model, fitted)
    return {"tape": float(tape)} | {name: float(moved @ part @ moved) for name, part in parts_mm2.items()}
