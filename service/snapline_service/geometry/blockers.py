"""What a tape cannot pass through: walls of two points and polygons, convex or not."""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from snapline_service.errors import InvalidValue
from snapline_service.geometry.values import Point, Polygon

Array = NDArray[np.float64]

# Nearer than this a tape runs along an edge or ends on it, which is free: rounding must not decide.
_TOUCH_MM = 1e-6


class Blockers:
    """Polygons and walls, prepared for many tapes.

    A tape is blocked when it passes through the inside of a polygon or across a wall; touching is free.
    """

    def __init__(self, outlines: Sequence[Polygon]) -> None:
        """Raise InvalidValue for an outline that crosses itself or encloses nothing."""
        self._walls: list[tuple[int, Polygon]] = []
        self._indices: list[int] = []
        insides = []
        for index, outline in enumerate(outlines):
            if len(outline) == 2:
                self._walls.append((index, _wall(index, outline)))
            else:
                insides.append(_inside(index, outline))
                self._indices.append(index)
        self._insides = np.array(insides, dtype=object)
        shapely.prepare(self._insides)

    @classmethod
    def of_hulls(cls, outlines: Iterable[Polygon]) -> "Blockers":
        """Return the blockers round outlines, whatever their form: what encloses nothing blocks nothing."""
        hulls = (shapely.MultiPoint(outline).convex_hull for outline in outlines)
        areas = (hull for hull in hulls if isinstance(hull, shapely.Polygon))
        return cls([tuple((x, y) for x, y, *_ in area.exterior.coords) for area in areas])

    def first_in_the_way(self, starts_mm: Array, end_mm: Point) -> list[int | None]:
        """Return for each start which blocker stands between it and the end; None where the way is free."""
        found: list[int | None] = [None] * len(starts_mm)
        if self._indices:
            ends = np.broadcast_to(np.asarray(end_mm, dtype=float), starts_mm.shape)
            lines = np.asarray(shapely.linestrings(np.stack([starts_mm, ends], axis=1)))
            crossed = shapely.intersects(self._insides[None, :], lines[:, None])
            for row in np.flatnonzero(crossed.any(axis=1)):
                found[row] = self._indices[int(crossed[row].argmax())]
        for index, wall in self._walls:
            for row in np.flatnonzero(_crosses(starts_mm, end_mm, wall)):
                found[row] = index if found[row] is None else found[row]
        return found


def _wall(index: int, outline: Polygon) -> Polygon:
    if outline[0] == outline[1]:
        raise _fault(index, "A wall's two ends are the same point.", "Give two ends that are apart.")
    return outline


def _inside(index: int, outline: Polygon) -> shapely.Polygon:
    polygon = shapely.Polygon(outline)
    if not polygon.convex_hull.area > 0.0:
        raise _fault(
            index, "A blocker's points lie on one line.", "Give its outline, or two points for a wall."
        )
    if not polygon.is_valid:
        raise _fault(index, "A blocker's outline crosses itself.", "Give its corners in order, all round.")
    with np.errstate(all="ignore"):  # a sliver shrinks to nothing, which is right
        return polygon.buffer(-_TOUCH_MM, join_style="mitre")


def _crosses(starts_mm: Array, end_mm: Point, wall: Polygon) -> NDArray[np.bool_]:
    """Say which tapes cross a wall: the ends of each lie on either side of the other."""
    one, two = (np.asarray(point, dtype=float) for point in wall)
    end = np.asarray(end_mm, dtype=float)

    def side(origin: Array, towards: Array, point: Array) -> Array:
        along = towards - origin
        length = np.maximum(np.hypot(along[..., 0], along[..., 1]), _TOUCH_MM)
        off = point - origin
        return np.asarray((along[..., 0] * off[..., 1] - along[..., 1] * off[..., 0]) / length)

    def opposite(one: Array, two: Array) -> NDArray[np.bool_]:
        return np.asarray((np.minimum(one, two) < -_TOUCH_MM) & (np.maximum(one, two) > _TOUCH_MM))

    by_tape = opposite(side(starts_mm, end, one), side(starts_mm, end, two))
    return by_tape & opposite(side(one, two, starts_mm), np.broadcast_to(side(one, two, end), len(starts_mm)))


def _fault(index: int, detail: str, mend: str) -> InvalidValue:
    return InvalidValue(detail, pointer=f"/blockers/{index}", mend=mend)
