"""A bay prepared for many questions: its outline as a convex hull less convex pieces, and its obstacles."""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import inf

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from snapline_service.geometry.bay_fit.pieces import Array, convex_pieces, corners, polygons_in
from snapline_service.geometry.bay_fit.values import CONTACT_MM, FAR_MM, Bay, Door, Kind, Obstacle, Part
from snapline_service.geometry.bay_fit.walls import moved, outward, wall_at, wall_ends
from snapline_service.geometry.values import Point

# How far a door may lie off the wall that it belongs to.
ON_THE_WALL_MM = 1.0
_WALL_MM = 1.0  # a wall's thickness, as thin as can be told from none


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Where parts of some kinds may be: inside the hull and outside its pockets.

    ``outline`` is the true one; hull and pockets leave it the width of a contact more.
    """

    outline: shapely.Polygon
    hull: Array
    pockets: tuple[Array, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """An obstacle: the true polygon and its convex pieces, which are smaller by the width of a contact."""

    index: int
    polygon: shapely.Polygon
    pieces: tuple[Array, ...]
    z_min_mm: float
    z_max_mm: float

    def meets(self, part: Part) -> bool:
        """Say whether the heights overlap. What is flat counts as a millimetre high."""
        top_mm = inf if part.z_max_mm is None else max(part.z_max_mm, part.z_min_mm + 1.0)
        return part.z_min_mm < self.z_max_mm and self.z_min_mm < top_mm


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """A bay, prepared."""

    regions: dict[Kind, Region]
    blocks: tuple[Block, ...]
    ceiling_mm: float

    def is_too_low_for(self, part: Part) -> bool:
        """Say whether a part would go through the ceiling."""
        return part.z_max_mm is not None and part.z_max_mm > self.ceiling_mm + CONTACT_MM

    def without(self, index: int) -> "Room":
        """Return the room with one obstacle cleared away."""
        return replace(self, blocks=tuple(block for block in self.blocks if block.index != index))


@lru_cache(maxsize=512)
def room_of(bay: Bay) -> Room:
    """Return a bay prepared. It must have passed the checks."""
    return _room(bay, shapely.Polygon(bay.ring), bay.doors)


@lru_cache(maxsize=512)
def room_with_wall_moved(bay: Bay, wall: int, by_mm: float = FAR_MM) -> Room:
    """Return a bay prepared, one wall of it moved outward with the doors in it; obstacles stay."""
    shift = by_mm * outward(bay.ring, wall)
    doors = [
        Door(_shifted(door.start, shift), _shifted(door.end, shift), door.open)
        if wall_of(bay, door) == wall
        else door
        for door in bay.doors
    ]
    return _room(bay, moved(bay.ring, wall, by_mm), tuple(doors))


def wall_of(bay: Bay, door: Door) -> int | None:
    """Return the wall in which a door is."""
    return wall_at(bay.ring, (door.start, door.end), ON_THE_WALL_MM)


def _room(bay: Bay, outline: shapely.Polygon, doors: tuple[Door, ...]) -> Room:
    shut = _region(outline)
    straight_out = [_straight_out(door, outline) for door in doors if door.open]
    yards = [_yard(door, outline) for door in doors]
    return Room(
        {
            "solid": shut,
            "walking_margin": shut,
            "clear_zone": _region_with(straight_out, outline) if straight_out else shut,
            "way_in": _region_with(yards, outline) if yards else shut,
        },
        tuple(_block(index, obstacle) for index, obstacle in enumerate(bay.obstacles)),
        inf if bay.ceiling_mm is None else bay.ceiling_mm,
    )


def _region(outline: shapely.Polygon) -> Region:
    wider = outline.buffer(CONTACT_MM, join_style="mitre", mitre_limit=10.0)
    hull = wider.convex_hull
    pockets = [piece for pocket in polygons_in(hull.difference(wider)) for piece in convex_pieces(pocket)]
    return Region(outline, corners(hull), tuple(pockets))


def _region_with(outside: list[BaseGeometry], outline: shapely.Polygon) -> Region:
    parts = polygons_in(shapely.union_all([outline, *outside]))
    return _region(next(part for part in parts if part.intersects(outline.representative_point())))


def _straight_out(door: Door, outline: shapely.Polygon) -> BaseGeometry:
    """Return what lies straight out of a door, up to where it would enter the bay again.

    Nobody knows what stands outside beside a door, so nothing there counts as free for a clear zone.
    """
    opening = _opening(door, outline)
    if opening is None:
        return shapely.Polygon()
    origin, out = opening[0], opening[2]
    again = shapely.get_coordinates(_strip(*opening, _WALL_MM, FAR_MM).intersection(outline))
    length_mm = ((again - origin) @ out).min() - _WALL_MM if len(again) else FAR_MM
    return _strip(*opening, -CONTACT_MM, length_mm)


def _yard(door: Door, outline: shapely.Polygon) -> BaseGeometry:
    """Return all that lies outside a door's wall, joined to the bay by the door alone."""
    opening = _opening(door, outline)
    if opening is None:
        return shapely.Polygon()
    one, other, out = opening
    aside = FAR_MM * (other - one) / np.hypot(*(other - one))
    yard = _strip(one - aside, other + aside, out, _WALL_MM, FAR_MM).difference(
        outline.buffer(_WALL_MM, join_style="mitre")
    )
    return yard.union(_strip(*opening, -CONTACT_MM, 2 * _WALL_MM))


def _opening(door: Door, outline: shapely.Polygon) -> tuple[Array, Array, Array] | None:
    """Return a door's two jambs, put on the wall's line, and the way out; None if its wall has vanished."""
    ring = [(float(x_mm), float(y_mm)) for x_mm, y_mm in corners(outline)]
    wall = wall_at(ring, (door.start, door.end), 2 * ON_THE_WALL_MM)
    if wall is None:
        return None
    out, (origin, _) = outward(ring, wall), wall_ends(ring, wall)
    one, other = (
        np.asarray(jamb) - ((np.asarray(jamb) - origin) @ out) * out for jamb in (door.start, door.end)
    )
    return one, other, out


def _strip(one: Array, other: Array, out: Array, from_mm: float, to_mm: float) -> shapely.Polygon:
    """Return what is swept by the line from one point to another, moved outward."""
    return shapely.Polygon(
        [one + from_mm * out, other + from_mm * out, other + to_mm * out, one + to_mm * out]
    )


def _block(index: int, obstacle: Obstacle) -> Block:
    polygon = shapely.Polygon(obstacle.polygon)
    smaller = polygons_in(polygon.buffer(-CONTACT_MM, join_style="mitre")) or [polygon]
    pieces = tuple(piece for part in smaller for piece in convex_pieces(part))
    top_mm = inf if obstacle.z_max_mm is None else obstacle.z_max_mm
    return Block(index, polygon, pieces, obstacle.z_min_mm, top_mm)


def _shifted(point: Point, shift: Array) -> Point:
    return float(point[0] + shift[0]), float(point[1] + shift[1])
