"""Published measures of a floor's evenness: limits of DIN 18202 and curvatures of ASTM E1155M."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import floor, hypot
from typing import Literal

import numpy as np

from snapline_service.geometry.flatness import Zone
from snapline_service.geometry.values import Located

# DIN 18202 table 3, floors: 1 and 2 unfinished, 3 finished, 4 finished with increased requirements.
Row = Literal[1, 2, 3, 4]
_DISTANCES_MM = (100.0, 1_000.0, 4_000.0, 10_000.0, 15_000.0)
_LIMITS_MM: dict[Row, tuple[float, ...]] = {
    1: (10.0, 15.0, 20.0, 25.0, 30.0),
    2: (5.0, 8.0, 12.0, 15.0, 20.0),
    3: (2.0, 4.0, 10.0, 12.0, 15.0),
    4: (1.0, 3.0, 9.0, 12.0, 15.0),
}


@dataclass(frozen=True, slots=True)
class PairOfPoints:
    """Two points by their index: how far apart they are, and how unevenly they may and do lie."""

    first: int
    second: int
    distance_mm: float
    limit_mm: float
    deviation_mm: float
    met: bool


def din_18202_limit_mm(row: Row, distance_mm: float) -> float:
    """Return the limit for a distance: interpolated and rounded to whole mm, constant outside the table."""
    return floor(float(np.interp(distance_mm, _DISTANCES_MM, _LIMITS_MM[row])) + 0.5)


def din_18202(row: Row, points: Sequence[Located], zone: Zone) -> tuple[PairOfPoints, ...]:
    """Hold every pair of points against its limit, the nearest to it first.

    The deviation is the pair's difference in height after the slope of the minimum zone is taken off: what a
    straightedge in that slope would show between them.
    """
    pairs = []
    for (i, one), (j, other) in combinations(enumerate(points), 2):
        distance_mm = hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm)
        limit_mm = din_18202_limit_mm(row, distance_mm)
        deviation_mm = abs(float(zone.above_middle_mm[i] - zone.above_middle_mm[j]))
        pairs.append(PairOfPoints(i, j, distance_mm, limit_mm, deviation_mm, deviation_mm <= limit_mm))
    return tuple(sorted(pairs, key=lambda pair: pair.limit_mm - pair.deviation_mm))


def curvatures_mm(heights_mm: Sequence[float]) -> tuple[float, ...]:
    """Return ASTM E1155M's q of a line of heights every 300 mm: the second differences."""
    return tuple(float(q) for q in np.diff(heights_mm, n=2))
