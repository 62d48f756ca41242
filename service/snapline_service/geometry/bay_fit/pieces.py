"""Polygons as convex pieces, which is what Minkowski sums are made of."""

from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]


def polygons_in(geometry: BaseGeometry) -> list[shapely.Polygon]:
    """Return the polygons of a geometry; points and lines, in which things merely touch, are left out."""
    parts = shapely.get_parts(geometry)
    return [part for part in parts if isinstance(part, shapely.Polygon) and part.area > 0.0]


def corners(polygon: BaseGeometry) -> Array:
    """Return the corners of a polygon's ring, each once."""
    return np.asarray(shapely.get_coordinates(polygon)[:-1])


def convex_pieces(polygon: shapely.Polygon) -> list[Array]:
    """Return convex polygons that make up a polygon: triangles, joined as long as they stay convex.

    After Hertel and Mehlhorn (1983): at most four times as many pieces as the fewest possible.
    """
    if is_convex(polygon):
        return _hulls([polygon])
    pieces = dict(enumerate(polygons_in(shapely.constrained_delaunay_triangles(polygon))))
    owner = {name: name for name in pieces}
    for one, other in list(_neighbours(pieces)):
        first, second = _root(owner, one), _root(owner, other)
        joined = shapely.union(pieces[first], pieces[second])
        if first != second and isinstance(joined, shapely.Polygon) and is_convex(joined):
            pieces[first] = joined
            del pieces[second]
            owner[second] = first
    return _hulls(pieces.values())


def _hulls(pieces: Iterable[shapely.Polygon]) -> list[Array]:
    """Return the corners of what is wide enough to have an inside at all."""
    hulls = (piece.convex_hull for piece in pieces)
    return [corners(hull) for hull in hulls if isinstance(hull, shapely.Polygon) and hull.area > 0.0]


def is_convex(polygon: shapely.Polygon) -> bool:
    """Say whether a polygon has neither holes nor dents."""
    return polygon.convex_hull.area - polygon.area <= 1e-9 * polygon.length**2


def _neighbours(triangles: dict[int, shapely.Polygon]) -> Iterator[tuple[int, int]]:
    """Yield the pairs that share a side."""
    sides: dict[frozenset[tuple[float, float]], int] = {}
    for name, triangle in triangles.items():
        ring = list(triangle.exterior.coords)
        for start, end in pairwise(ring):
            side = frozenset({(start[0], start[1]), (end[0], end[1])})
            if side in sides:
                yield sides[side], name
            sides[side] = name


def _root(owner: dict[int, int], name: int) -> int:
    while owner[name] != name:
        name = owner[name]
    return name
