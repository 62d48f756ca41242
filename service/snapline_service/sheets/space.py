"""The free room of a drawing field: what may be drawn over, what it costs, and where lettering goes.

Lettering never overlaps lettering or a dimension line; crossing other lines is allowed and costs. Everything
is deterministic: the same field filled in the same order gives the same places.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from snapline_service.sheets.drawing import Point
from snapline_service.sheets.lettering import Box

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_STEP_MM = 2.0
_BATCH = 150
_BEAD_MM = 3.0
_ROUND_MM = np.array([-0.5, -0.5, 0.5, 0.5])  # clear of a guarded line on every side
_COVERED_COST = 4.0
# A leader is told from the lines of the drawing when it slants and is not a mere tick.
_SLANT_MM, _SHORT_LEADER_MM, _ODD_COST_MM = 1.0, 3.5, 12.0
_NO_WAY_MM = 1e-9
_TOUCHING = 1e-6  # an end that lies on the other line, but for rounding, is no crossing
_LEADER_FROM_MM = 1.5
_CROSSING_COST_MM = 12.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A place found for lettering; ``leader`` runs from the lettering to its thing, None when they touch."""

    box: Box
    leader: tuple[Point, Point] | None


def _none() -> Array:
    return np.empty((0, 4))


@dataclass(slots=True)
class Space:
    """A field being filled."""

    limits: Box
    _lettering: Array = field(default_factory=_none)
    _guards: Array = field(default_factory=_none)
    _lines: Array = field(default_factory=_none)
    _weights: Array = field(default_factory=lambda: np.empty(0))

    def letter(self, box: Box) -> None:
        """Take room for lettering: nothing may cross it any more."""
        self._lettering = np.vstack([self._lettering, box])

    def line(self, start: Point, end: Point, weight: float) -> None:
        """Note a line. Lettering over it costs ``weight`` for every millimetre covered."""
        self._lines = np.vstack([self._lines, (*start, *end)])
        self._weights = np.append(self._weights, weight)

    def outline(self, points: tuple[Point, ...], weight: float) -> None:
        """Note a closed outline."""
        for start, end in zip(points, points[1:] + points[:1], strict=True):
            self.line(start, end, weight)

    def guard(self, start: Point, end: Point) -> None:
        """Note a line that no lettering may cover: a dimension line or a leader."""
        self.line(start, end, 2.0)
        self._guards = np.vstack([self._guards, (*start, *end)])

    def is_free(self, box: Box) -> bool:
        """Tell whether lettering may stand here."""
        return bool(self._free(np.array([box]))[0])

    def is_clear(self, start: Point, end: Point) -> bool:
        """Tell whether a line meets no lettering."""
        return not self._meets_lettering(np.array([[*start, *end]]))[0]

    def is_apart(self, start: Point, end: Point) -> bool:
        """Tell whether a line keeps clear of every dimension line and leader."""
        beads = _beads(start, end)[1:-1]  # two in a chain may meet at their ends
        return not (_clipped(beads, self._guards) > 0).any()

    def crossings(self, start: Point, end: Point) -> float:
        """Give the weighted number of lines that a line crosses."""
        return float((_crosses(np.array([[*start, *end]]), self._lines) @ self._weights)[0])

    def closeness(self, start: Point, end: Point) -> float:
        """Give the weighted length of the lines that a line runs beside or crosses."""
        return float(self._covered(_beads(start, end)).sum())

    def covered(self, box: Box) -> float:
        """Give the weighted length of the lines that a box covers."""
        return float(self._covered(np.array([box]))[0])

    def spot(
        self, size_mm: tuple[float, float], targets: tuple[Point, ...], reach_mm: float, most_covered: float
    ) -> Spot | None:
        """Find the best place for lettering within reach of the nearest of its targets, or None.

        Weighed are distance, lines covered and lines that the leader crosses; lettering that would cover more
        than ``most_covered`` weighted millimetres of line could not be read.
        """
        boxes = self._candidates(*size_mm, targets)
        ends, distances = _nearest(boxes, np.array(targets))
        leaders = np.hstack([np.clip(ends, boxes[:, :2], boxes[:, 2:]), ends])
        order = np.argsort(distances, kind="stable")
        order = order[distances[order] <= reach_mm]
        best, best_cost = None, np.inf
        for batch in np.split(order, range(_BATCH, len(order), _BATCH)):
            if not len(batch) or distances[batch[0]] >= best_cost:
                break  # what follows is farther, and nothing makes it cheaper than its distance
            costs = self._costs(boxes[batch], leaders[batch], most_covered, best_cost)
            cheapest = int(np.argmin(costs))
            if costs[cheapest] < best_cost:
                best, best_cost = batch[cheapest], costs[cheapest]
        if best is None:
            return None
        return _spot(boxes[best], None if distances[best] < _LEADER_FROM_MM else leaders[best])

    def _costs(self, boxes: Array, leaders: Array, most_covered: float, bound: float) -> Array:
        """Weigh places; infinite for those that are not free, cover too much or reach the bound."""
        costs = np.full(len(boxes), np.inf)
        free = np.flatnonzero(self._free(boxes) & ~self._meets_lettering(leaders))
        ways = np.abs(leaders[free, 2:] - leaders[free, :2])
        lengths_mm = np.hypot(ways[:, 0], ways[:, 1])
        needed = lengths_mm >= _LEADER_FROM_MM
        odd = needed & ((ways.min(axis=1) < _SLANT_MM) | (lengths_mm < _SHORT_LEADER_MM))
        covered = self._covered(boxes[free])
        known = lengths_mm + covered * _COVERED_COST + odd * _ODD_COST_MM
        worth = (covered <= most_covered) & (known < bound)
        free, known = free[worth], known[worth]
        costs[free] = known + _crosses(leaders[free], self._lines) @ self._weights * _CROSSING_COST_MM
        return costs

    def _candidates(self, width_mm: float, height_mm: float, targets: tuple[Point, ...]) -> Array:
        """Lay a grid of places over the field, in step with the first target."""
        (x, y), limits = targets[0], self.limits
        x_mins = _in_step(x + 1.0, limits.x_min, limits.x_max - width_mm)
        y_mins = _in_step(y - height_mm / 2, limits.y_min, limits.y_max - height_mm)
        left, top = (grid.ravel() for grid in np.meshgrid(x_mins, y_mins))
        return np.column_stack([left, top, left + width_mm, top + height_mm])

    def _free(self, boxes: Array) -> Flags:
        limits = self.limits
        inside = (
            (boxes[:, 0] >= limits.x_min)
            & (boxes[:, 1] >= limits.y_min)
            & (boxes[:, 2] <= limits.x_max)
            & (boxes[:, 3] <= limits.y_max)
        )
        lettered = np.any(_overlaps(boxes, self._lettering), axis=1)
        guarded = np.any(_clipped(boxes + _ROUND_MM, self._guards) > 0, axis=1)
        free: Flags = inside & ~lettered & ~guarded
        return free

    def _meets_lettering(self, segments: Array) -> Flags:
        met: Flags = np.any(_clipped(self._lettering, segments) > 0, axis=0)
        return met

    def _covered(self, boxes: Array) -> Array:
        covered: Array = _clipped(boxes, self._lines) @ self._weights
        return covered


def _spot(box: Array, leader: Array | None) -> Spot:
    x_min, y_min, x_max, y_max = (float(v) for v in box)
    if leader is None:
        return Spot(Box(x_min, y_min, x_max, y_max), None)
    x0, y0, x1, y1 = (float(v) for v in leader)
    return Spot(Box(x_min, y_min, x_max, y_max), ((x0, y0), (x1, y1)))


def _beads(start: Point, end: Point) -> Array:
    """Give small boxes strung along a line, so that a slanting one takes no more room than it needs."""
    count = max(2, int(np.hypot(end[0] - start[0], end[1] - start[1]) / _BEAD_MM) + 1)
    middles = np.column_stack([np.linspace(a, b, count) for a, b in zip(start, end, strict=True)])
    return np.hstack([middles - _BEAD_MM / 2, middles + _BEAD_MM / 2])


def _in_step(origin: float, low: float, high: float) -> Array:
    first = origin + np.ceil((low - origin) / _STEP_MM) * _STEP_MM
    return np.arange(first, high + 1e-9, _STEP_MM)


def _nearest(boxes: Array, targets: Array) -> tuple[Array, Array]:
    """Give for each box the nearest target and how far away it is."""
    reached = np.clip(targets[None, :, :], boxes[:, None, :2], boxes[:, None, 2:])
    distances = np.linalg.norm(reached - targets[None, :, :], axis=2)
    nearest = distances.argmin(axis=1)
    return targets[nearest], distances[np.arange(len(boxes)), nearest]


def _overlaps(boxes: Array, others: Array) -> Flags:
    a, b = boxes[:, None, :], others[None, :, :]
    met: Flags = np.all((a[..., :2] < b[..., 2:]) & (b[..., :2] < a[..., 2:]), axis=-1)
    return met


def _clipped(boxes: Array, segments: Array) -> Array:
    """Give the length of each segment inside each box (Liang and Barsky's clipping)."""
    enter_x, leave_x = _crossed_band(boxes[:, 0], boxes[:, 2], segments[:, 0], segments[:, 2])
    enter_y, leave_y = _crossed_band(boxes[:, 1], boxes[:, 3], segments[:, 1], segments[:, 3])
    enter, leave = np.maximum(enter_x, enter_y), np.minimum(leave_x, leave_y)
    share = np.maximum(np.minimum(leave, 1.0) - np.maximum(enter, 0.0), 0.0)
    lengths: Array = share * np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    return lengths


def _crossed_band(low: Array, high: Array, start: Array, end: Array) -> tuple[Array, Array]:
    """Give the shares of each segment's length at which it enters and leaves each band between two limits."""
    way = end - start
    level = np.abs(way) < _NO_WAY_MM
    step = np.where(level, _NO_WAY_MM, way)  # a level segment enters far off, or long before its start
    first, second = (low[:, None] - start) / step, (high[:, None] - start) / step
    enter: Array = np.minimum(first, second)
    leave: Array = np.maximum(first, second)
    return enter, leave


def _crosses(segments: Array, others: Array) -> Flags:
    """Tell which segments properly cross which others: each has the other's ends on both its sides."""
    others_parted = _sides(segments, others[:, :2]) * _sides(segments, others[:, 2:]) < -_TOUCHING
    parted = _sides(others, segments[:, :2]) * _sides(others, segments[:, 2:]) < -_TOUCHING
    crossed: Flags = others_parted & parted.T
    return crossed


def _sides(lines: Array, points: Array) -> Array:
    """Give for each line and point a number whose sign tells on which side the point lies."""
    ways = lines[:, 2:] - lines[:, :2]
    starts = ways[:, 0] * lines[:, 1] - ways[:, 1] * lines[:, 0]
    sides: Array = np.outer(ways[:, 0], points[:, 1]) - np.outer(ways[:, 1], points[:, 0]) - starts[:, None]
    return sides
