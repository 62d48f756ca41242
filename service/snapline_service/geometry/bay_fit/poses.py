"""The fewest poses between which every procedure is done, and what is done at each."""

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import count

import shapely

from snapline_service.geometry.bay_fit.clearance import roomiest_stand
from snapline_service.geometry.bay_fit.pieces import polygons_in
from snapline_service.geometry.bay_fit.room import Room
from snapline_service.geometry.bay_fit.space import space_of
from snapline_service.geometry.bay_fit.values import Procedure, Stand


def fewest_stands(
    room: Room, procedures: Sequence[Procedure], headings_deg: Sequence[float]
) -> tuple[tuple[Stand, ...], tuple[str, ...]]:
    """Return the fewest stands, and the names of the procedures that fit at no heading."""
    together = {heading_deg: _together(room, procedures, heading_deg) for heading_deg in headings_deg}
    sets = _maximal(one for found in together.values() for one in found)
    servable = frozenset().union(*sets)
    unservable = tuple(one.name for n, one in enumerate(procedures) if n not in servable)
    stands = []
    left = servable
    for chosen in fewest_sets(sets, servable):
        done = chosen & left
        left -= done
        able = [h for h, found in together.items() if any(done <= one for one in found)]
        stand = roomiest_stand(room, [procedures[n] for n in sorted(done)], able)
        stands += [stand] if stand else []
    return tuple(stands), unservable


def fewest_sets(sets: Sequence[frozenset[int]], wanted: frozenset[int]) -> tuple[frozenset[int], ...]:
    """Return the fewest sets that together hold all that is wanted; it must be held by some.

    Exact: what is wanted first is held by one of few sets, so they are tried in turn, with one set allowed,
    then two, and so on. Of equally few the first are taken.
    """
    largest = max(map(len, sets), default=1)

    @cache
    def within(left: frozenset[int], allowed: int) -> tuple[frozenset[int], ...] | None:
        if not left:
            return ()
        if allowed * largest < len(left):
            return None
        first = min(left)
        for one in sets:
            rest = within(left - one, allowed - 1) if first in one else None
            if rest is not None:
                return (one, *rest)
        return None

    return next(found for allowed in count() if (found := within(wanted, allowed)) is not None)


def _together(room: Room, procedures: Sequence[Procedure], heading_deg: float) -> list[frozenset[int]]:
    """Return the largest sets of procedures that can be done at one pose, facing one way.

    The outlines of their spaces cut the floor into faces; who can stand in a face can stand everywhere in it.
    """
    spaces = [space_of(room, [one], heading_deg).keeping(0.0) for one in procedures]
    some = [n for n, space in enumerate(spaces) if space.area > 0.0]
    if not some:
        return []
    lines = shapely.union_all([spaces[n].boundary for n in some])
    faces = polygons_in(shapely.polygonize([lines]))
    inner = shapely.point_on_surface(faces)
    holds = {n: shapely.intersects(spaces[n], inner) for n in some}
    return _maximal(frozenset(n for n in some if holds[n][face]) for face in range(len(faces)))


def _maximal(sets: Iterator[frozenset[int]]) -> list[frozenset[int]]:
    """Return the sets that are not inside another, largest first, equally large ones in order."""
    kept: list[frozenset[int]] = []
    for one in sorted(set(sets), key=lambda one: (-len(one), sorted(one))):
        if not any(one <= other for other in kept):
            kept.append(one)
    return [one for one in kept if one]
