"""How far each wall by itself is short of what all procedures at one pose need."""

from collections.abc import Iterable, Iterator, Sequence
from math import ceil

import numpy as np
import shapely

from snapline_service.geometry.bay_fit.clearance import PlacedPart, place_parts
from snapline_service.geometry.bay_fit.pieces import polygons_in
from snapline_service.geometry.bay_fit.room import room_of, room_with_wall_moved, wall_of
from snapline_service.geometry.bay_fit.space import space_of
from snapline_service.geometry.bay_fit.values import CONTACT_MM, Bay, Cause, Procedure, Shortfall
from snapline_service.geometry.bay_fit.walls import gained, is_outermost, outward, wall_ends

# An amount that has to be searched for is found as closely as this.
_CLOSE_MM = 1.0
_ROUND_MM = 50_000.0  # a bay whose wall has moved as far as for another procedure stands prepared
_TRIES = 4  # how often a wall is moved to search, as a rule
_Need = tuple[float, Cause]
_Needs = dict[float, _Need]


def shortfalls(
    bay: Bay, procedures: Sequence[Procedure], headings_deg: Sequence[float]
) -> Iterator[Shortfall]:
    """Yield for each wall how far it must move outward, the least over the headings, obstacles staying.

    A wall whose moving never helps is left out. The bay gains what ``walls.gained`` says. Of headings that
    need the same the first is taken, of parts that reach as far the first.
    """
    far_mm = _far_enough_mm(bay, procedures)
    for wall in range(len(bay.ring)):
        needs = _needs(bay, wall, far_mm, procedures, headings_deg)
        need = _least(needs)
        if need and _is_only_a_guess(bay, wall, procedures):
            need = _searched(bay, wall, far_mm, procedures, needs)
        if need:
            normal = outward(bay.ring, wall)
            amount_mm, cause = max(need[0], 0.0) + CONTACT_MM, need[1]
            yield Shortfall(wall, (float(normal[0]) + 0.0, float(normal[1]) + 0.0), amount_mm, cause)


def spaces_needed(bay: Bay, procedures: Sequence[Procedure]) -> int:
    """Return how often the free places at one heading are found anew until all is told."""
    guesses = sum(_is_only_a_guess(bay, wall, procedures) for wall in range(len(bay.ring)))
    return 2 + len(bay.ring) + (_TRIES - 1) * guesses


def _needs(
    bay: Bay, wall: int, by_mm: float, procedures: Sequence[Procedure], headings_deg: Iterable[float]
) -> _Needs:
    """Return, for each heading at which all is free once a wall has moved by an amount, how far it must.

    That is told of the free places nearest to where the wall was. It is the least there is, exactly, as long
    as the need grows with the distance from the wall alone: a linear function is least at a corner.
    """
    room, normal = room_with_wall_moved(bay, wall, by_mm), outward(bay.ring, wall)
    found = {}
    for heading_deg in headings_deg:
        space = space_of(room, procedures, heading_deg)
        corners = [shapely.get_coordinates(polygon) for polygon in polygons_in(space.keeping(0.0))]
        if corners:
            points = np.concatenate(corners)
            place = points[int((points @ normal).argmin())]
            parts = place_parts(procedures, heading_deg, place, space, away_from=normal)
            found[heading_deg] = _reach(bay, wall, by_mm, parts)
    return found


def _least(needs: _Needs) -> _Need | None:
    return min(needs.values(), key=lambda need: round(need[0], 6), default=None)


def _reach(bay: Bay, wall: int, by_mm: float, parts: Iterable[PlacedPart]) -> _Need:
    """Return how far parts reach into what a bay gains at a wall, and the part that reaches farthest."""
    normal, gain = outward(bay.ring, wall), gained(bay.ring, wall, by_mm + CONTACT_MM)
    line_mm = float(wall_ends(bay.ring, wall)[0] @ normal)
    regions = room_of(bay).regions
    reaches = []
    for name, part, points in parts:
        reach_mm = float((points @ normal).max()) - line_mm
        if reach_mm > 0.0:
            had = regions[part.kind].outline.buffer(2 * CONTACT_MM, join_style="mitre")
            new = shapely.Polygon(points).intersection(gain).difference(had)
            reach_mm = float((shapely.get_coordinates(new) @ normal).max()) - line_mm if new.area else 0.0
        reaches.append((reach_mm, Cause(name, part.name)))
    return max(reaches, key=lambda reach: round(reach[0], 6))


def _is_only_a_guess(bay: Bay, wall: int, procedures: Sequence[Procedure]) -> bool:
    """Say whether more counts at a wall than how far the parts reach beyond its line.

    That is so where the bay itself or a way out through a door lies beyond the line, and where a part slides.
    """
    passing = {"clear_zone", "way_in"}
    passes = any(part.kind in passing for one in procedures for part in (*one.parts, *one.ways_in))
    has_door = any(wall_of(bay, door) == wall for door in bay.doors)
    slides = any(one.sliding for one in procedures)
    return slides or (passes and has_door) or not is_outermost(bay.ring, wall)


def _searched(
    bay: Bay, wall: int, far_mm: float, procedures: Sequence[Procedure], needs: _Needs
) -> _Need | None:
    """Find the amount: what fits goes on fitting when the wall stands farther out.

    The least need is tried from both sides first, as it is nearly always right; then the interval is halved.
    """
    low, high = 0.0, far_mm
    while (guess := _least(needs)) and high - low > _CLOSE_MM:
        tries = (guess[0] + _CLOSE_MM / 2, guess[0] - _CLOSE_MM / 2, (low + high) / 2)
        by_mm = next(mm for mm in tries if low < mm < high)
        # Where nothing is free now, nothing will be when the wall stands nearer.
        nearer = _needs(bay, wall, by_mm, procedures, needs)
        low, high, needs = (low, by_mm, nearer) if nearer else (by_mm, high, needs)
    return guess and (min(max(guess[0], low), high), guess[1])


def _far_enough_mm(bay: Bay, procedures: Sequence[Procedure]) -> float:
    """Return a distance after which moving a wall still farther can no longer help."""
    parts = [part for one in procedures for part in one.parts]
    parts += [part for one in procedures for group in one.sliding for part in group.parts]
    polygons = [np.asarray(polygon) for polygon in (bay.ring, *(part.polygon for part in parts))]
    enough_mm = float(2 * sum(np.hypot(*np.ptp(polygon, axis=0)) for polygon in polygons))
    return _ROUND_MM * ceil(enough_mm / _ROUND_MM)
