"""Points on the floor that tapes are hooked to, with the uncertainty that they share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    return Marks(names, np.array([points[name] for name in names], dtype=float), np.diag(variances))
