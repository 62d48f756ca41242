"""The roomiest pose: that at which the least distance from any part to a wall or obstacle is greatest."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from snapline_service.geometry.bay_fit.pieces import Array, polygons_in
from snapline_service.geometry.bay_fit.room import Room
from snapline_service.geometry.bay_fit.space import Space, space_of, turned_corners
from snapline_service.geometry.bay_fit.values import CONTACT_MM, Part, Procedure, Slid, Stand

# A procedure's name, a part of it, and the part's corners in the bay.
PlacedPart = tuple[str, Part, Array]

# Halving ends here. Of the greatest distance, 1 % may be missed where a wall has a very flat corner.
_CLOSE_MM = 0.01


def roomiest_stand(
    room: Room, procedures: Sequence[Procedure], headings_deg: Iterable[float]
) -> Stand | None:
    """Return the pose with the greatest spare distance at which all procedures can be done, or None.

    Of headings that give the same the first is taken, of places the middle of the first from the left.
    """
    best_mm, found = 0.0, None
    for heading_deg in headings_deg:
        space = space_of(room, procedures, heading_deg)
        better_mm = best_mm + 2 * _CLOSE_MM if found else 0.0
        if space.keeping(better_mm).area > 0.0:
            best_mm, place = roomiest_place(space, at_least_mm=better_mm)
            found = heading_deg, space, place
    if found is None:
        return None
    heading_deg, space, place = found
    placed = list(place_parts(procedures, heading_deg, place, space))
    return Stand(
        float(place[0]),
        float(place[1]),
        heading_deg,
        tuple(procedure.name for procedure in procedures),
        _least_distance_mm(room, [(part, points) for _, part, points in placed]),
        tuple(slides(procedures, place, space)),
    )


def roomiest_place(space: Space, at_least_mm: float = 0.0) -> tuple[float, Array]:
    """Return the greatest distance that can be kept in a space, and the place where it is kept.

    ``at_least_mm`` is a distance that is known to be possible. Halving the interval is enough, because a
    place that keeps a distance keeps every smaller one.
    """
    x_min, y_min, x_max, y_max = space.fixed.bounds
    low, high = at_least_mm, min(x_max - x_min, y_max - y_min) / 2
    while high - low > _CLOSE_MM:
        middle = (low + high) / 2
        low, high = (middle, high) if space.keeping(middle).area > 0.0 else (low, middle)
    left = min(polygons_in(space.keeping(low)), key=lambda part: [round(edge) for edge in part.bounds])
    centre = left.centroid if left.contains(left.centroid) else left.point_on_surface()
    return low, np.array([centre.x, centre.y])


def slides(
    procedures: Sequence[Procedure], place: Array, space: Space, away_from: Array | None = None
) -> Iterator[Slid]:
    """Yield where in its range each sliding group stands, for the vehicle at a place of the space.

    That is where it has most room, or as far against the direction ``away_from`` as it can.
    """
    groups = [(procedure, group) for procedure in procedures for group in procedure.sliding]
    for (procedure, group), (free, slide) in zip(groups, space.sliding, strict=True):
        yield Slid(procedure.name, group.name, _best_share(free, place, slide, away_from))


def place_parts(
    procedures: Sequence[Procedure],
    heading_deg: float,
    place: Array,
    space: Space,
    away_from: Array | None = None,
) -> Iterator[PlacedPart]:
    """Yield every part, with its procedure's name and its corners in the bay."""
    for procedure in procedures:
        for part in procedure.parts:
            yield procedure.name, part, place + turned_corners(part, heading_deg)
    groups = [group for procedure in procedures for group in procedure.sliding]
    for slid, group in zip(slides(procedures, place, space, away_from), groups, strict=True):
        for part in group.parts:
            by = (slid.share * group.by_mm[0], slid.share * group.by_mm[1])
            yield slid.procedure, part, place + turned_corners(part, heading_deg, by)


def _best_share(free: BaseGeometry, place: Array, slide: Array, away_from: Array | None) -> float:
    """Return the share of a slide that ends where there is most room, or farthest against a direction."""
    path = shapely.LineString([place, place + slide])
    tried = [path.interpolate(share, normalized=True) for share in np.linspace(0.0, 1.0, 101)]
    stretches = shapely.get_parts(path.intersection(free.buffer(CONTACT_MM)))
    tried += [shapely.Point(point) for point in shapely.get_coordinates(stretches)]
    inside = [point for point in tried if free.distance(point) <= CONTACT_MM + 1e-6]

    def merit(point: shapely.Point) -> float:
        if away_from is None:
            return round(float(free.boundary.distance(point)), 3)
        return -round(float(np.array([point.x, point.y]) @ away_from), 3)

    best = max(inside, key=merit)
    return float(path.project(best, normalized=True))


def _least_distance_mm(room: Room, placed: Sequence[tuple[Part, Array]]) -> float:
    found = []
    for part, points in placed:
        polygon = shapely.Polygon(points)
        found.append(room.regions[part.kind].outline.exterior.distance(polygon))
        found += [block.polygon.distance(polygon) for block in room.blocks if block.meets(part)]
    return float(min(found))
