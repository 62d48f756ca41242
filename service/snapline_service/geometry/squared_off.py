"""Points told by a tape held square to two walls, as one finds them again on a floor.

Bay axes, mm. Common practice, no source: two walls not far from square to each other fix a point best. A
tape's end is held to something solid: only where no wall is does a string across a door stand for it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon
from shapely import Point as ShapelyPoint

from snapline_service.geometry.values import Point

_LEAST_CROSSING = 0.5  # sine of the angle between the walls: 30°
_ON_THE_RING_MM = 1.0

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SquaredOff:
    """Two walls, by their number in the ring, and for each point its distances square to them, mm.

    ``across_doors`` are those of the two whose line a tape meets in the opening of a door.
    """

    walls: tuple[int, int]
    distances_mm: tuple[tuple[float, float], ...]
    across_doors: tuple[int, ...] = ()

    @property
    def effort(self) -> tuple[int, float]:
        """Tell which of several is taped more easily: first from solid walls, then with the shorter tapes."""
        return len(self.across_doors), sum(map(sum, self.distances_mm))


def squared_off(
    ring: Sequence[Point],
    points: Sequence[Point],
    doors: Sequence[tuple[Point, Point]] = (),
    barred: Sequence[Polygon] = (),
) -> SquaredOff | None:
    """Return the two nearest walls that all points can be taped from, inside the bay; None without two.

    No tape lies over what is ``barred`` on the floor, and solid walls go before nearer ones with a door.
    """
    room = Polygon(ring).buffer(_ON_THE_RING_MM)
    openings, bars = MultiLineString(list(doors)), MultiPolygon(barred)
    ways = {wall: tuple(_tapes(ring, wall, points)) for wall in range(len(ring))}
    reached = [
        wall
        for wall, tapes in ways.items()
        if len(tapes) == len(points) and all(room.covers(tape) and _is_free(tape, bars) for tape in tapes)
    ]
    pairs = [pair for pair in combinations(reached, 2) if _crossing(ring, *pair) >= _LEAST_CROSSING]
    found = [_told(pair, ways, openings) for pair in pairs]
    return min(found, key=lambda one: (one.effort, one.walls), default=None)


def _told(
    walls: tuple[int, int], ways: Mapping[int, tuple[LineString, ...]], openings: MultiLineString
) -> SquaredOff:
    first, second = (tuple(tape.length for tape in ways[wall]) for wall in walls)
    in_a_door = tuple(wall for wall in walls if any(_ends_in(tape, openings) for tape in ways[wall]))
    return SquaredOff(walls, tuple(zip(first, second, strict=True)), in_a_door)


def _ends_in(tape: LineString, openings: MultiLineString) -> bool:
    return not openings.is_empty and ShapelyPoint(tape.coords[-1]).distance(openings) <= _ON_THE_RING_MM


def _is_free(tape: LineString, bars: MultiPolygon) -> bool:
    return bool(bars.is_empty or tape.disjoint(bars))


def _tapes(ring: Sequence[Point], wall: int, points: Sequence[Point]) -> Iterator[LineString]:
    """Yield the tape of each point whose foot lies on the wall's length, from the point to its foot."""
    start, along, length_mm = _wall(ring, wall)
    for point in points:
        at_mm = float((np.asarray(point) - start) @ along)
        foot = start + at_mm * along
        if 0.0 <= at_mm <= length_mm:
            yield LineString([point, (foot[0], foot[1])])


def _crossing(ring: Sequence[Point], one: int, other: int) -> float:
    (_, (ax, ay), _), (_, (bx, by), _) = _wall(ring, one), _wall(ring, other)
    return abs(float(ax * by - ay * bx))


def _wall(ring: Sequence[Point], wall: int) -> tuple[Vector, Vector, float]:
    start, end = np.asarray(ring[wall], float), np.asarray(ring[(wall + 1) % len(ring)], float)
    length_mm = float(np.linalg.norm(end - start))
    return start, (end - start) / length_mm, length_mm
