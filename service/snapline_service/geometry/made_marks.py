"""Marks made from marks: halfway, along a string through two of them, and by two tapes.

Each carries the errors of what it was made from, so that nothing is counted as independent that is not.
"""

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.marks import Marks, extended
from snapline_service.geometry.setting_out import Best
from snapline_service.geometry.tapes import Tape
from snapline_service.geometry.values import Point

Array = NDArray[np.float64]


def halfway(
    marks: Marks, name: str, one: str, two: str, *, u_marking_mm: float, aside_mm: float = 0.0
) -> Marks:
    """Return the marks with the middle of two of them, found by halving a string.

    ``aside_mm`` is counted from there along the string, positive towards the first.
    """
    first, second = np.array(marks.point(one)), np.array(marks.point(two))
    point = (first + second) / 2.0 + aside_mm * (first - second) / float(np.hypot(*(first - second)))
    half = np.eye(2) / 2.0
    return extended(marks, name, (float(point[0]), float(point[1])), {one: half, two: half}, u_marking_mm**2)


def produced(
    marks: Marks, name: str, through: tuple[str, str], beyond_mm: float, *, tape: Tape, u_marking_mm: float
) -> Marks:
    """Return the marks with a point on the line through two of them, so far beyond the second.

    A string gives the direction, a tape the distance from the second mark.
    """
    start, second = (np.array(marks.point(each)) for each in through)
    base = float(np.hypot(*(second - start)))
    u = (second - start) / base
    point = second + beyond_mm * u
    along, across = np.outer(u, u), np.eye(2) - np.outer(u, u)
    share = (base + beyond_mm) / base
    own = np.eye(2) * u_marking_mm**2 + along * tape.u_of_mm(abs(beyond_mm)) ** 2
    made_from = {through[0]: (1.0 - share) * across, through[1]: along + share * across}
    return extended(marks, name, (float(point[0]), float(point[1])), made_from, own)


def taped(
    marks: Marks, name: str, point: Point, from_: tuple[str, str], *, tape: Tape, u_marking_mm: float
) -> Marks:
    """Return the marks with one at a given place, found by a tape from each of two marks."""
    away = np.array(point) - np.array([marks.point(each) for each in from_])
    distances_mm = np.hypot(away[:, 0], away[:, 1])
    towards = away / distances_mm[:, None]
    made_from, own = _two_tapes(from_, np.linalg.inv(towards), towards, tape.u_mm(distances_mm))
    return extended(marks, name, point, made_from, own + np.eye(2) * u_marking_mm**2)


def by_tapes(marks: Marks, name: str, best: Best, *, u_marking_mm: float) -> Marks:
    """Return the marks with one that was set out from two of them: the second stage starts from it."""
    made_from, own = _two_tapes(best.marks, best.inverse, best.towards, best.u_tape_mm)
    return extended(marks, name, best.target, made_from, own + np.eye(2) * u_marking_mm**2)


def _two_tapes(
    from_: tuple[str, str], inverse: Array, towards: Array, u_tape_mm: Array
) -> tuple[dict[str, Array], Array]:
    """Return how a point follows the errors of the two marks, and the covariance that the tapes bring."""
    made_from = {mark: np.outer(inverse[:, column], towards[column]) for column, mark in enumerate(from_)}
    return made_from, (inverse * u_tape_mm**2) @ inverse.T
