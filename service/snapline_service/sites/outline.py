"""What is wrong with the outline of a bay, in words that say how to put it right."""

from collections.abc import Iterator, Sequence
from math import dist

from shapely import LinearRing, LineString, STRtree

from snapline_service.errors import Fault
from snapline_service.geometry.bay_fit.units import LEAST_MM, sides, unit_meant

Place = tuple[float, float]

# Common practice, no source: no workshop measures more in one piece.
GREATEST_MM = 200_000.0
# Corners closer than this are one corner, measured twice.
SAME_POINT_MM = 1.0
_TOLD = 5


def outline_faults(ring: Sequence[Place], at: str = "") -> list[Fault]:
    """Return what is wrong with a ring of corners in mm, which must run counter-clockwise.

    Wall n runs from corner n to the next. ``at`` is the pointer of the ring. Of faults that hide others only
    the first kind is told: size and units, then repeated corners, then crossing walls, then direction.
    """
    return (
        list(_size(ring, at))
        or list(_repeated(ring, at))
        or list(_crossing(ring, at))
        or list(_clockwise(ring, at))
    )


def walls(ring: Sequence[Place]) -> list[tuple[Place, Place]]:
    """Return the walls of a ring, numbered as answers number them."""
    return list(zip(ring, [*ring[1:], ring[0]], strict=True))


def told(place: Place) -> str:
    """Return a place as a person writes it."""
    return f"({place[0]:,.10g}, {place[1]:,.10g})"


def _size(ring: Sequence[Place], at: str) -> Iterator[Fault]:
    short, long = sides(ring)
    size = f"{long:,.4g} × {short:,.4g}" if long < LEAST_MM else f"{long:,.0f} × {short:,.0f}"
    if long > GREATEST_MM:
        detail = f"The outline is {size} mm, longer than {GREATEST_MM:,.0f} mm."
        yield Fault(at, detail, "Give its corners in millimetres.")
    elif short < LEAST_MM:
        detail = f"The outline is {size} mm; a bay has at least {LEAST_MM:,.0f} mm both ways."
        yield Fault(at, detail, unit_meant(short, long) or "Give its corners in millimetres.")


def _repeated(ring: Sequence[Place], at: str) -> Iterator[Fault]:
    last = len(ring) - 1
    for index, place in enumerate(ring):
        for before in range(index):
            if dist(ring[before], place) >= SAME_POINT_MM:
                continue
            if (before, index) == (0, last):
                mend = "Leave the last corner out: the outline closes by itself."
            else:
                mend = "Give every corner once; walls may not touch."
            detail = f"Corner {index} is corner {before} again, at {told(place)}."
            yield Fault(f"{at}/{index}", detail, mend)
            break


def _crossing(ring: Sequence[Place], at: str) -> Iterator[Fault]:
    edges = walls(ring)
    lines = [LineString(edge) for edge in edges]
    pairs = STRtree(lines).query(lines, predicate="intersects").T.tolist()
    found = 0
    for one, other in sorted(pair for pair in pairs if pair[0] < pair[1]):
        word = _meeting(lines[one], lines[other], neighbours=other - one in (1, len(lines) - 1))
        if word and found < _TOLD:
            found += 1
            named = [f"wall {n}, from {told(edges[n][0])} to {told(edges[n][1])}," for n in (one, other)]
            detail = f"The outline is not simple: {named[0]} {word} {named[1].rstrip(',')}."
            yield Fault(f"{at}/{one}", detail, "Give the corners in the order in which one walks round.")


def _meeting(one: LineString, other: LineString, *, neighbours: bool) -> str:
    shared = one.intersection(other)
    if shared.length > 0:
        return "runs back along" if neighbours else "runs along"
    if neighbours:
        return ""
    return "crosses" if one.crosses(other) else "touches"


def _clockwise(ring: Sequence[Place], at: str) -> Iterator[Fault]:
    if not LinearRing(ring).is_ccw:
        detail = "The corners run clockwise, seen from above."
        yield Fault(at, detail, "Give them in the opposite order: walls are numbered in it.")
