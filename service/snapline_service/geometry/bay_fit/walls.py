"""Walls of a ring: which way is out, and what a bay gains when one of them is moved."""

from collections.abc import Sequence

import numpy as np
import shapely

from snapline_service.geometry.bay_fit.pieces import Array, polygons_in
from snapline_service.geometry.values import Point

# Directions whose sine is smaller are the same: a wall that is given in two pieces goes straight on.
_STRAIGHT = 1e-3


def wall_ends(ring: Sequence[Point], wall: int) -> tuple[Array, Array]:
    """Return where a wall starts and ends, in the order of the ring."""
    return np.asarray(ring[wall], dtype=float), np.asarray(ring[(wall + 1) % len(ring)], dtype=float)


def outward(ring: Sequence[Point], wall: int) -> Array:
    """Return the unit normal that points out of the bay, whichever way round the ring runs."""
    start, end = wall_ends(ring, wall)
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([along[1], -along[0]])
    return np.asarray(normal if shapely.LinearRing(ring).is_ccw else -normal)


def wall_at(ring: Sequence[Point], points: Sequence[Point], within_mm: float) -> int | None:
    """Return the first wall on which all the points lie."""
    for wall in range(len(ring)):
        line = shapely.LineString(wall_ends(ring, wall))
        if all(line.distance(shapely.Point(point)) <= within_mm for point in points):
            return wall
    return None


def is_outermost(ring: Sequence[Point], wall: int) -> bool:
    """Say whether nothing of the bay lies beyond a wall's line."""
    start, _ = wall_ends(ring, wall)
    beyond_mm = (np.asarray(ring, dtype=float) - start) @ outward(ring, wall)
    return bool(beyond_mm.max() <= 1e-6)


def gained(ring: Sequence[Point], wall: int, by_mm: float) -> shapely.Polygon:
    """Return the area that a bay gains when a wall slides outward, staying parallel to itself.

    It slides between the lines of its two neighbours, which become longer or shorter with it; where they
    meet, it has shrunk to nothing. Beside a neighbour that goes straight on, it slides square to itself.
    """
    start, end = wall_ends(ring, wall)
    normal, count = outward(ring, wall), len(ring)
    before, after = np.asarray(ring[wall - 1]), np.asarray(ring[(wall + 2) % count])
    slide_start, slide_end = _slide(start - before, normal), _slide(end - after, normal)
    along = end - start
    closing = along @ (slide_start - slide_end) / (along @ along)  # share of its length lost per mm
    if closing * by_mm >= 1.0:
        return shapely.Polygon([start, end, start + slide_start / closing])
    return shapely.Polygon([start, end, end + by_mm * slide_end, start + by_mm * slide_start])


def moved(ring: Sequence[Point], wall: int, by_mm: float) -> shapely.Polygon:
    """Return the outline of a bay after one of its walls has slid outward."""
    grown = shapely.union(shapely.Polygon(ring), gained(ring, wall, by_mm))
    return max(polygons_in(grown), key=lambda part: part.area)


def _slide(neighbour: Array, normal: Array) -> Array:
    """Return how a wall's end moves along its neighbour's line for each mm that the wall moves outward."""
    rise = float(neighbour @ normal)
    if abs(rise) < _STRAIGHT * np.hypot(*neighbour):
        return normal
    return np.asarray(neighbour / rise)
