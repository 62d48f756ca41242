"""Points on the floor that tapes are hooked to, with the uncertainty that they share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.datums import DatumPoint
from snapline_service.geometry.values import Point

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Named points with their joint covariance.

    ``points_mm`` has the shape (n, 2); ``covariance_mm2`` (2n, 2n) in the order x of the first mark, y of the
    first, x of the second, … Marks that come from one measured dimension, or were set out from each other,
    are correlated.
    """

    names: tuple[str, ...]
    points_mm: Array
    covariance_mm2: Array

    def index(self, name: str) -> int:
        """Return a mark's place in the order."""
        return self.names.index(name)

    def point(self, name: str) -> Point:
        """Return where a mark is."""
        x_mm, y_mm = self.points_mm[self.index(name)]
        return float(x_mm), float(y_mm)

    def only(self, names: Sequence[str]) -> "Marks":
        """Return some of the marks, in the order asked for, with what they share."""
        rows = [self.index(name) for name in names]
        both = [axis for row in rows for axis in (2 * row, 2 * row + 1)]
        return Marks(tuple(names), self.points_mm[rows], self.covariance_mm2[np.ix_(both, both)])


def independent(points: Mapping[str, Point], u_mm: Mapping[str, float]) -> Marks:
    """Return marks that share nothing; ``u_mm`` is the standard uncertainty of each along either axis."""
    names = tuple(points)
    variances = np.repeat([u_mm[name] ** 2 for name in names], 2)
    points_mm = np.array([points[name] for name in names], dtype=float).reshape(-1, 2)
    return Marks(names, points_mm, np.diag(variances))


def from_inputs(
    points: Mapping[str, DatumPoint], u_own_mm: Mapping[str, float], standard_uncertainty: Mapping[str, float]
) -> Marks:
    """Return marks that are made of measured inputs, correlated by those that they share.

    ``u_own_mm`` is what marking each of them adds, along either axis; 0 for a name that is left out.
    """
    inputs = {key: column for column, key in enumerate(standard_uncertainty)}
    jacobian = np.zeros((2 * len(points), len(inputs)))
    for row, coordinate in enumerate(axis for point in points.values() for axis in point):
        for key, slope in coordinate.slopes:
            if key in inputs:
                jacobian[row, inputs[key]] += slope * standard_uncertainty[key]
    own = np.repeat([u_own_mm.get(name, 0.0) ** 2 for name in points], 2)
    places = [(point.x.value, point.y.value) for point in points.values()]
    return Marks(
        tuple(points), np.array(places, dtype=float).reshape(-1, 2), jacobian @ jacobian.T + np.diag(own)
    )


def extended(
    marks: Marks, name: str, point: Point, made_from: Mapping[str, Array], own_mm2: Array | float
) -> Marks:
    """Return the marks with one more that was made from them: its error is sum K_i (error of mark i) + own.

    ``made_from`` has K_i (2, 2) by mark; ``own_mm2`` is the covariance of making it, or a variance per axis.
    """
    weights = np.zeros((2, 2 * len(marks.names)))
    for other, factor in made_from.items():
        row = 2 * marks.index(other)
        weights[:, row : row + 2] += factor
    shared = weights @ marks.covariance_mm2
    own = own_mm2 if isinstance(own_mm2, np.ndarray) else np.eye(2) * own_mm2
    size = len(marks.covariance_mm2)
    joint = np.empty((size + 2, size + 2))
    joint[:size, :size], joint[size:, :size], joint[:size, size:] = marks.covariance_mm2, shared, shared.T
    joint[size:, size:] = shared @ weights.T + own
    return Marks((*marks.names, name), np.vstack([marks.points_mm, point]), joint)
