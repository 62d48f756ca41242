"""Marks made from marks: halfway, along a string through two of them, and by two tapes.

Each carries the errors of what it was made from, so that nothing is counted as independent that is not.
"""

from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.marks import Marks, extended
from snapline_service.geometry.setting_out import Best
from snapline_service.geometry.tapes import Tape

Array = NDArray[np.float64]


def halfway(marks: Marks, name: str, one: str, two: str, *, u_marking_mm: float) -> Marks:
    """Return the marks with the middle of two of them, found by halving a string."""
    middle = (np.array(marks.point(one)) + np.array(marks.point(two))) / 2.0
    half = np.eye(2) / 2.0
    return extended(
        marks, name, (float(middle[0]), float(middle[1])), {one: half, two: half}, u_marking_mm**2
    )


def produced(
    marks: Marks,
    name: str,
    through: tuple[str, str],
    beyond_mm: float,
    *,
    tape: Tape,
    u_marking_mm: float,
    turned_deg: float = 0.0,
) -> Marks:
    """Return the marks with a point on the line through two of them, so far beyond the second.

    A string gives the direction, a tape the distance from the second mark. The line may be turned about the
    first mark, positive to the left; ``beyond_mm`` then still counts from level with the second.
    """
    start, second = (np.array(marks.point(each)) for each in through)
    base = float(np.hypot(*(second - start)))
    u = (second - start) / base
    reach = (base + beyond_mm) / cos(radians(turned_deg))
    c, s = cos(radians(turned_deg)), sin(radians(turned_deg))
    direction = np.array([c * u[0] - s * u[1], s * u[0] + c * u[1]])
    point = start + reach * direction
    along, across = np.outer(u, u), np.eye(2) - np.outer(u, u)
    share = (base + beyond_mm) / base
    own = np.eye(2) * u_marking_mm**2 + along * tape.u_of_mm(abs(beyond_mm)) ** 2
    made_from = {through[0]: (1.0 - share) * across, through[1]: along + share * across}
    return extended(marks, name, (float(point[0]), float(point[1])), made_from, own)


def by_tapes(marks: Marks, name: str, best: Best, *, u_marking_mm: float) -> Marks:
    """Return the marks with one that was set out from two of them: the second stage starts from it."""
    weights = {
        mark: np.outer(best.inverse[:, column], best.towards[column])
        for column, mark in enumerate(best.marks)
    }
    own = (best.inverse * best.u_tape_mm**2) @ best.inverse.T + np.eye(2) * u_marking_mm**2
    return extended(marks, name, best.target, weights, own)
