"""How far each wall by itself is short of what all procedures at one pose need."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from snapline_service.geometry.bay_fit.clearance import place_parts, roomiest_place
from snapline_service.geometry.bay_fit.pieces import Array, polygons_in
from snapline_service.geometry.bay_fit.room import room_of, room_with_wall_moved, wall_of
from snapline_service.geometry.bay_fit.space import Space, space_of
from snapline_service.geometry.bay_fit.values import CONTACT_MM, Bay, Cause, Procedure, Shortfall
from snapline_service.geometry.bay_fit.walls import gained, is_outermost, outward, wall_ends

# The amount is found as closely as this where it has to be searched for.
_CLOSE_MM = 0.25
_Missing = tuple[float, Cause] | None


def shortfalls(
    bay: Bay, procedures: Sequence[Procedure], headings_deg: Sequence[float]
) -> Iterator[Shortfall]:
    """Yield for each wall how far it must move outward, the least over the headings, obstacles staying.

    A wall whose moving never helps is left out. The bay gains what ``walls.gained`` says. Of headings that
    need the same the first is taken, of parts that reach as far the first.
    """
    for wall in range(len(bay.ring)):
        if _needs_search(bay, wall, procedures):
            missing = _searched(bay, wall, procedures, headings_deg)
        else:
            missing = _from_corners(bay, wall, procedures, headings_deg)
        if missing:
            normal = outward(bay.ring, wall)
            yield Shortfall(wall, (float(normal[0]) + 0.0, float(normal[1]) + 0.0), *missing)


def _needs_search(bay: Bay, wall: int, procedures: Sequence[Procedure]) -> bool:
    """Say whether more counts at a wall than how far the parts reach beyond its line.

    That is so where the bay itself or a way out through a door lies beyond the line, and where a part slides.
    """
    passing = {"clear_zone", "way_in"}
    passes = any(part.kind in passing for one in procedures for part in (*one.parts, *one.ways_in))
    has_door = any(wall_of(bay, door) == wall for door in bay.doors)
    slides = any(one.sliding for one in procedures)
    return slides or (passes and has_door) or not is_outermost(bay.ring, wall)


def _from_corners(
    bay: Bay, wall: int, procedures: Sequence[Procedure], headings_deg: Sequence[float]
) -> _Missing:
    """Find the amount with the wall taken away: a linear function is least at a corner of the free space."""
    room, normal = room_with_wall_moved(bay, wall), outward(bay.ring, wall)
    line_mm = float(wall_ends(bay.ring, wall)[0] @ normal)
    found = []
    for heading_deg in headings_deg:
        space = space_of(room, procedures, heading_deg).keeping(0.0)
        places = [shapely.get_coordinates(polygon) for polygon in polygons_in(space)]
        if places:
            points = np.concatenate(places)
            place = points[int((points @ normal).argmin())]
            reaches = [
                (float((points @ normal).max()), Cause(name, part.name))
                for name, part, points in place_parts(procedures, heading_deg, place)
            ]
            reach_mm, cause = max(reaches, key=lambda reach: round(reach[0], 6))
            found.append((max(reach_mm - line_mm + CONTACT_MM, 0.0), cause))
    return min(found, key=lambda missing: round(missing[0], 6), default=None)


def _searched(
    bay: Bay, wall: int, procedures: Sequence[Procedure], headings_deg: Sequence[float]
) -> _Missing:
    """Find the amount by halving: what fits goes on fitting when the wall stands farther out."""

    def fitting(by_mm: float) -> tuple[float, Space] | None:
        room = room_with_wall_moved(bay, wall, by_mm)
        spaces = ((heading_deg, space_of(room, procedures, heading_deg)) for heading_deg in headings_deg)
        return next((found for found in spaces if not found[1].is_empty), None)

    low, high = 0.0, _far_enough_mm(bay, procedures)
    best = fitting(high)
    if best is None:
        return None
    while high - low > _CLOSE_MM:
        middle = (low + high) / 2
        found = fitting(middle)
        best, low, high = (found, low, middle) if found else (best, middle, high)
    return high + 2 * CONTACT_MM, _farthest_out(bay, wall, high, procedures, *best)


def _farthest_out(
    bay: Bay, wall: int, by_mm: float, procedures: Sequence[Procedure], heading_deg: float, space: Space
) -> Cause:
    """Return the part that reaches farthest into what the bay gained and did not have before."""
    regions, normal = room_of(bay).regions, outward(bay.ring, wall)
    strip = gained(bay.ring, wall, by_mm + 2 * CONTACT_MM)
    _, place = roomiest_place(space)
    reaches = []
    for name, part, points in place_parts(procedures, heading_deg, place, space):
        new = shapely.Polygon(points).intersection(strip).difference(regions[part.kind].outline)
        reach_mm = float((shapely.get_coordinates(new) @ normal).max()) if new.area else -np.inf
        reaches.append((reach_mm, Cause(name, part.name)))
    return max(reaches, key=lambda reach: reach[0] + 0.0)[1]


def _far_enough_mm(bay: Bay, procedures: Sequence[Procedure]) -> float:
    """Return a distance after which moving a wall still farther can no longer help."""
    parts = [part for one in procedures for part in one.parts]
    parts += [part for one in procedures for group in one.sliding for part in group.parts]
    polygons: list[Array] = [
        np.asarray(polygon, dtype=float) for polygon in (bay.ring, *(p.polygon for p in parts))
    ]
    return float(2 * sum(np.hypot(*np.ptp(polygon, axis=0)) for polygon in polygons))
