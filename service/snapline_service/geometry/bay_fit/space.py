"""Free space: every place of the vehicle's origin at which, facing one way, nothing meets wall or obstacle.

A part stays in a convex hull while all its corners do, so the places are the hull's copies, shifted by each
corner, cut with each other. A part stays off a convex piece while the origin is outside the Minkowski sum of
the piece and the part turned by 180 degrees (Lozano-Pérez, IEEE Trans. Computers C-32, 1983).
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, reduce
from itertools import accumulate, chain
from math import cos, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from snapline_service.geometry.bay_fit.pieces import Array, is_convex, polygons_in
from snapline_service.geometry.bay_fit.room import Block, Region, Room
from snapline_service.geometry.bay_fit.values import Part, Procedure
from snapline_service.geometry.values import Point

Flags = NDArray[np.bool_]
Free = Callable[[tuple[Part, ...]], BaseGeometry]

NOWHERE: BaseGeometry = shapely.Polygon()
# Round corners of a distance kept: 64 sides to a quarter are within 0.008 % of the arc.
_ARC = 64
_REMEMBERED = 4096


@dataclass(frozen=True, slots=True)
class Space:
    """Places at which fixed parts are free, and places and slides of parts that have a range."""

    fixed: BaseGeometry
    sliding: tuple[tuple[BaseGeometry, Array], ...] = ()

    def keeping(self, distance_mm: float) -> BaseGeometry:
        """Return the places at which everything keeps a distance from all that bounds the space.

        Of what bounds it, GEOS leaves out corners that are flatter than a hundredth of the distance.
        """
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
    return _assembled(procedures, heading_deg, lambda parts: _free(room, parts, heading_deg))


def spaces_cleared(room: Room, procedures: Sequence[Procedure], heading_deg: float) -> Iterator[Space]:
    """Yield the space that there is with one obstacle cleared away, for each in turn."""
    cleared = cache(lambda parts: _free_with_one_cleared(room, parts, heading_deg))

    def with_cleared(number: int) -> Space:
        return _assembled(procedures, heading_deg, lambda parts: cleared(parts)[number])

    yield from map(with_cleared, range(len(room.blocks)))


def _assembled(procedures: Sequence[Procedure], heading_deg: float, free: Free) -> Space:
    """Put together the places of all the parts, those of each of the ways in, and those of what slides."""
    fixed = free(tuple(dict.fromkeys(part for procedure in procedures for part in procedure.parts)))
    for ways_in in dict.fromkeys(procedure.ways_in for procedure in procedures if procedure.ways_in):
        fixed = fixed.intersection(shapely.union_all([free((way,)) for way in ways_in]))
    turn = _turn(heading_deg)
    sliding = [
        (free(group.parts), turn @ np.asarray(group.by_mm))
        for procedure in procedures
        for group in procedure.sliding
    ]
    return Space(fixed, tuple(sliding))


@dataclass(frozen=True, slots=True)
class _Places:
    """Places inside a bay's hull, and of them those at which a part is outside the bay or at an obstacle."""

    inside: BaseGeometry
    outside: Sequence[BaseGeometry] = ()
    blocked: Sequence[Sequence[BaseGeometry]] = ()


@lru_cache(maxsize=_REMEMBERED)
def _free(room: Room, parts: tuple[Part, ...], heading_deg: float) -> BaseGeometry:
    """Return the places at which all parts are free, facing one way; the same ways in are asked for often."""
    places = _places(room, parts, heading_deg)
    return places.inside.difference(shapely.union_all([*places.outside, *chain(*places.blocked)]))


def _free_with_one_cleared(room: Room, parts: tuple[Part, ...], heading_deg: float) -> list[BaseGeometry]:
    """Return those places with each obstacle cleared away in turn: what is before it and behind it stays."""
    places = _places(room, parts, heading_deg)
    if places.inside.area == 0.0:
        return [NOWHERE] * len(room.blocks)
    blocked = [shapely.union_all(some) for some in places.blocked]
    before = accumulate(blocked, shapely.union, initial=shapely.union_all(places.outside))
    behind = list(accumulate(reversed(blocked), shapely.union, initial=NOWHERE))[::-1]
    return [
        places.inside.difference(shapely.union(*stays)) for stays in zip(before, behind[1:], strict=False)
    ]


def _places(room: Room, parts: Sequence[Part], heading_deg: float) -> _Places:
    if any(room.is_too_low_for(part) for part in parts):
        return _Places(NOWHERE)
    shapes = [turned_corners(part, heading_deg) for part in parts]
    members: dict[Region, list[Array]] = {}
    for part, shape in zip(parts, shapes, strict=True):
        members.setdefault(room.regions[part.kind], []).append(shape)
    inside = reduce(shapely.intersection, (_inside(region.hull, inner) for region, inner in members.items()))
    if inside.area == 0.0:
        return _Places(NOWHERE)
    outside = [
        place for region, inner in members.items() for _, place in _meetings(region.pockets, inner, inside)
    ]
    return _Places(inside, outside, _blocked(room.blocks, parts, shapes, inside))


def _blocked(
    blocks: Sequence[Block], parts: Sequence[Part], shapes: Sequence[Array], inside: BaseGeometry
) -> list[list[BaseGeometry]]:
    """Return for each obstacle the places at which a part meets it."""
    owners = [number for number, block in enumerate(blocks) for _ in block.pieces]
    pieces = [piece for block in blocks for piece in block.pieces]
    meets = np.array([[block.meets(part) for part in parts] for block in blocks])
    blocked: list[list[BaseGeometry]] = [[] for _ in blocks]
    for piece, place in _meetings(pieces, shapes, inside, meets[owners] if owners else True):
        blocked[owners[piece]].append(place)
    return blocked


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


def _meetings(
    pieces: Sequence[Array], shapes: Sequence[Array], inside: BaseGeometry, may_meet: Flags | bool = True
) -> Iterable[tuple[int, BaseGeometry]]:
    """Return, by number of the piece, the places near to those inside at which a shape meets a piece."""
    if not pieces or not shapes:
        return ()
    pairs = np.argwhere(_near(pieces, shapes, inside) & may_meet).tolist()
    sums = [(pieces[i][:, None, :] - shapes[j][None, :, :]).reshape(-1, 2) for i, j in pairs]
    return zip((i for i, _ in pairs), _hulls(sums) if sums else (), strict=True)


def _hulls(point_sets: Sequence[Array]) -> list[BaseGeometry]:
    which = np.repeat(np.arange(len(point_sets)), [len(points) for points in point_sets])
    hulls = shapely.convex_hull(shapely.multipoints(np.concatenate(point_sets), indices=which))
    return list(np.asarray(hulls))


def _near(pieces: Sequence[Array], shapes: Sequence[Array], inside: BaseGeometry) -> Flags:
    """Say for each piece and shape whether the box of their sum meets the box of the places inside."""
    low, high = np.array(inside.bounds[:2]), np.array(inside.bounds[2:])
    piece_low, piece_high = _boxes(pieces)
    shape_low, shape_high = _boxes(shapes)
    lows, highs = piece_low[:, None] - shape_high[None], piece_high[:, None] - shape_low[None]
    return np.asarray(((lows < high) & (highs > low)).all(axis=2))


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
