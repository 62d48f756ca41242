"""Free space: every place of the vehicle's origin at which, facing one way, nothing meets wall or obstacle.

A part stays in a convex hull while all its corners do, so the places are the hull's copies, shifted by each
corner, cut with each other. A part stays off a convex piece while the origin is outside the Minkowski sum of
the piece and the part turned by 180 degrees (Lozano-Pérez, IEEE Trans. Computers C-32, 1983).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from math import cos, radians, sin

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from snapline_service.geometry.bay_fit.pieces import Array, is_convex, polygons_in
from snapline_service.geometry.bay_fit.room import Region, Room
from snapline_service.geometry.bay_fit.values import Part, Procedure
from snapline_service.geometry.values import Point

NOWHERE = shapely.Polygon()
# Round corners of a distance kept: 16 sides to a quarter are within 0.12 % of the arc.
_ARC = 16
_REMEMBERED = 4096


@dataclass(frozen=True, slots=True)
class Space:
    """Places at which fixed parts are free, and places and slides of parts that have a range."""

    fixed: BaseGeometry
    sliding: tuple[tuple[BaseGeometry, Array], ...] = ()

    def keeping(self, distance_mm: float) -> BaseGeometry:
        """Return the places at which everything keeps a distance from all that bounds the space."""
        kept = _inset(self.fixed, distance_mm)
        for free, slide in self.sliding:
            kept = shapely.intersection(kept, _swept(_inset(free, distance_mm), -slide))
        return kept

    @property
    def is_empty(self) -> bool:
        """Say whether there is no place at all."""
        return bool(self.keeping(0.0).area == 0.0)


def space_of(room: Room, procedures: Sequence[Procedure], heading_deg: float) -> Space:
    """Return the places at which all the procedures can be done, facing one way."""
    if len(procedures) == 1:
        return _space_alone(room, procedures[0], heading_deg)
    return _space_together(room, procedures, heading_deg)


@lru_cache(maxsize=_REMEMBERED)
def _space_alone(room: Room, procedure: Procedure, heading_deg: float) -> Space:
    """Return the places at which one procedure can be done: a plan asks for them again and again."""
    return _space_together(room, [procedure], heading_deg)


def _space_together(room: Room, procedures: Sequence[Procedure], heading_deg: float) -> Space:
    """Return the places for all the procedures, found at once: what they have in common counts once."""
    parts = dict.fromkeys(part for procedure in procedures for part in procedure.parts)
    fixed = free(room, list(parts), heading_deg)
    for ways_in in dict.fromkeys(procedure.ways_in for procedure in procedures if procedure.ways_in):
        fixed = fixed.intersection(_driven_in(room, ways_in, heading_deg))
    turn = _turn(heading_deg)
    sliding = [
        (free(room, group.parts, heading_deg), turn @ np.asarray(group.by_mm))
        for procedure in procedures
        for group in procedure.sliding
    ]
    return Space(fixed, tuple(sliding))


@lru_cache(maxsize=_REMEMBERED)
def _driven_in(room: Room, ways_in: tuple[Part, ...], heading_deg: float) -> BaseGeometry:
    """Return the places at which a car comes in one way or another, the same for all that is done on it."""
    return shapely.union_all([free(room, [way], heading_deg) for way in ways_in])


def free(room: Room, parts: Sequence[Part], heading_deg: float) -> BaseGeometry:
    """Return the places at which all parts are free, facing one way."""
    if any(room.is_too_low_for(part) for part in parts):
        return NOWHERE
    shapes = [turned_corners(part, heading_deg) for part in parts]
    members: dict[Region, list[Array]] = {}
    for part, shape in zip(parts, shapes, strict=True):
        members.setdefault(room.regions[part.kind], []).append(shape)
    inside = reduce(shapely.intersection, (_inside(region.hull, inner) for region, inner in members.items()))
    if inside.area == 0.0:
        return NOWHERE
    blocked = [
        blocker for region, inner in members.items() for blocker in _blocked(region.pockets, inner, inside)
    ]
    for block in room.blocks:
        meeting = [shape for part, shape in zip(parts, shapes, strict=True) if block.meets(part)]
        blocked += _blocked(block.pieces, meeting, inside)
    return inside.difference(shapely.union_all(blocked)) if blocked else inside


def turned_corners(part: Part, heading_deg: float, by_mm: Point = (0.0, 0.0)) -> Array:
    """Return a part's corners about the vehicle's origin in the bay's directions, the part moved first."""
    return np.asarray((np.asarray(part.polygon) + by_mm) @ _turn(heading_deg).T)


def _turn(heading_deg: float) -> Array:
    c, s = cos(radians(heading_deg)), sin(radians(heading_deg))
    return np.array([[c, -s], [s, c]])


def _inside(hull: Array, shapes: Sequence[Array]) -> BaseGeometry:
    """Return the places that keep all shapes in a hull; only the corners farthest across a side count."""
    points = np.concatenate(shapes)
    along = np.roll(hull, -1, axis=0) - hull
    across = points @ np.stack([along[:, 1], -along[:, 0]])
    outermost = points[np.unique([across.argmax(axis=0), across.argmin(axis=0)])]
    return shapely.intersection_all(shapely.polygons(hull[None, :, :] - outermost[:, None, :]))


def _blocked(
    pieces: Sequence[Array], shapes: Sequence[Array], inside: BaseGeometry
) -> Sequence[BaseGeometry]:
    """Return the places, near to those inside, at which a shape meets a piece."""
    if not pieces or not shapes:
        return ()
    sums = [
        (piece[:, None, :] - shape[None, :, :]).reshape(-1, 2)
        for piece, shape in _near(pieces, shapes, inside)
    ]
    if not sums:
        return ()
    return _hulls(sums)


def _hulls(point_sets: Sequence[Array]) -> list[BaseGeometry]:
    which = np.repeat(np.arange(len(point_sets)), [len(points) for points in point_sets])
    hulls = shapely.convex_hull(shapely.multipoints(np.concatenate(point_sets), indices=which))
    return list(np.asarray(hulls))


def _near(
    pieces: Sequence[Array], shapes: Sequence[Array], inside: BaseGeometry
) -> Iterable[tuple[Array, Array]]:
    """Return the pairs whose sum's box meets the box of the places inside."""
    low, high = np.array(inside.bounds[:2]), np.array(inside.bounds[2:])
    piece_low, piece_high = _boxes(pieces)
    shape_low, shape_high = _boxes(shapes)
    lows, highs = piece_low[:, None] - shape_high[None], piece_high[:, None] - shape_low[None]
    near = ((lows < high) & (highs > low)).all(axis=2)
    return [(pieces[i], shapes[j]) for i, j in np.argwhere(near)]


def _boxes(polygons: Sequence[Array]) -> tuple[Array, Array]:
    return (
        np.array([polygon.min(axis=0) for polygon in polygons]),
        np.array([polygon.max(axis=0) for polygon in polygons]),
    )


def _inset(places: BaseGeometry, distance_mm: float) -> BaseGeometry:
    return places if distance_mm == 0.0 else shapely.buffer(places, -distance_mm, quad_segs=_ARC)


def _swept(places: BaseGeometry, by: Array) -> BaseGeometry:
    """Return all places from which a slide of some share of ``by`` starts or ends among the places."""
    return shapely.union_all([part for polygon in polygons_in(places) for part in _trail(polygon, by)])


def _trail(polygon: shapely.Polygon, by: Array) -> Sequence[BaseGeometry]:
    """Return parts that together are what a polygon passes over when it is moved."""
    moved = shapely.transform(polygon, lambda points: points + by)
    if is_convex(polygon):
        return [shapely.union(polygon, moved).convex_hull]
    edges = []
    for ring in (polygon.exterior, *polygon.interiors):
        points = shapely.get_coordinates(ring)
        starts, ends = points[:-1], points[1:]
        edges += list(np.stack([starts, ends, ends + by, starts + by], axis=1))
    return [polygon, moved, *_hulls(edges)]
