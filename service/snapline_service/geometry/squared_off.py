"""Points told by a tape held square to two walls, as one finds them again on a floor.

Bay axes, mm. Common practice, no source: two walls not far from square to each other fix a point best.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon

from snapline_service.geometry.values import Point

_LEAST_CROSSING = 0.5  # sine of the angle between the walls: 30°
_ON_THE_RING_MM = 1.0

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SquaredOff:
    """Two walls, by their number in the ring, and for each point its distances square to them, mm."""

    walls: tuple[int, int]
    distances_mm: tuple[tuple[float, float], ...]


def squared_off(ring: Sequence[Point], points: Sequence[Point]) -> SquaredOff | None:
    """Return the two nearest walls that all points can be taped from, inside the bay; None without two."""
    room = Polygon(ring).buffer(_ON_THE_RING_MM)
    ways = {wall: tuple(_tapes(ring, wall, points, room)) for wall in range(len(ring))}
    reached = [wall for wall, tapes in ways.items() if len(tapes) == len(points)]
    pairs = [pair for pair in combinations(reached, 2) if _crossing(ring, *pair) >= _LEAST_CROSSING]
    if not pairs:
        return None
    first, second = min(pairs, key=lambda pair: (sum(ways[pair[0]]) + sum(ways[pair[1]]), pair))
    return SquaredOff((first, second), tuple(zip(ways[first], ways[second], strict=True)))


def _tapes(ring: Sequence[Point], wall: int, points: Sequence[Point], room: Polygon) -> Iterator[float]:
    """Yield the distance of each point whose foot lies on the wall, with nothing of the ring between."""
    start, along, length_mm = _wall(ring, wall)
    for point in points:
        at_mm = float((np.asarray(point) - start) @ along)
        foot = start + at_mm * along
        tape = LineString([point, (foot[0], foot[1])])
        if 0.0 <= at_mm <= length_mm and room.covers(tape):
            yield tape.length


def _crossing(ring: Sequence[Point], one: int, other: int) -> float:
    (_, (ax, ay), _), (_, (bx, by), _) = _wall(ring, one), _wall(ring, other)
    return abs(float(ax * by - ay * bx))


def _wall(ring: Sequence[Point], wall: int) -> tuple[Vector, Vector, float]:
    start, end = np.asarray(ring[wall], float), np.asarray(ring[(wall + 1) % len(ring)], float)
    length_mm = float(np.linalg.norm(end - start))
    return start, (end - start) / length_mm, length_mm
