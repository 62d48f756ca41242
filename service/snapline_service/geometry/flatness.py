"""How flat points lie: the minimum zone in z, that is the thinnest sloping band that holds them all.

Chebyshev's best plane by linear programming, whose dual says how the band's thickness follows each height.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from snapline_service.geometry.values import Located

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """The band's thickness, each point's height above its middle, and the thickness per unit of each height.

    Where the points lie in a plane any of several derivatives holds, and one is given.
    """

    band_mm: float
    above_middle_mm: Array
    band_per_height: Array


def minimum_zone(points: Sequence[Located]) -> Zone:
    """Return the minimum zone of at least three points that are not all on one line."""
    places = np.array([(point.x_mm, point.y_mm) for point in points])
    heights = np.array([point.z_mm for point in points])
    middle = heights.mean()  # so that the solver's tolerance is one of the band, not of a great height
    spread = places - places.mean(axis=0)
    plane = np.column_stack([np.ones(len(points)), spread / np.abs(spread).max()])
    half = np.ones((len(points), 1))
    found = scipy.optimize.linprog(
        [0.0, 0.0, 0.0, 1.0],
        A_ub=np.block([[plane, -half], [-plane, -half]]),
        b_ub=np.concatenate([heights - middle, middle - heights]),
        bounds=(None, None),
        method="highs",
    )
    per_bound, best = np.asarray(found.ineqlin.marginals), np.asarray(found.x)
    return Zone(
        band_mm=2.0 * max(float(best[3]), 0.0),
        above_middle_mm=heights - middle - plane @ best[:3],
        band_per_height=2.0 * (per_bound[: len(points)] - per_bound[len(points) :]),
    )
