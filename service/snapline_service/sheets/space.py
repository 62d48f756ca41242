"""The free room of a drawing field: what may be drawn over, what it costs, and where lettering goes.

What lettering touches counts as taken by the whole cell, so nothing overlaps; what a line costs is true to a
cell. Lettering never overlaps lettering or a dimension line; crossing other lines is allowed and costs.
Everything is deterministic: the same field filled in the same order gives the same places.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from snapline_service.sheets.cells import SAMPLE_MM, Cells, Rows, sums_over
from snapline_service.sheets.drawing import Point
from snapline_service.sheets.lettering import Box
from snapline_service.sheets.segments import crossed, lengths_inside

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
Segment = tuple[Point, Point]

_STEP_MM = 2.0
_BATCH = 24

_BEAD_MM, _APART_MM = 3.0, 1.5
_ROUND_MM = 0.5  # clear of a guarded line on every side
_COVERED_COST = 4.0
# A leader is told from the lines of the drawing when it slants and is not a mere tick.
_SLANT_MM, _SHORT_LEADER_MM, _ODD_COST_MM = 1.0, 3.5, 12.0
_LEADER_FROM_MM = 1.5
_CROSSING_COST_MM, _LEADERS_CROSSED_MM = 12.0, 60.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A place found for lettering; ``leader`` runs from the lettering to its thing, None when they touch."""

    box: Box
    leader: Segment | None


@dataclass(frozen=True, slots=True)
class Terms:
    """How far lettering may be from its thing, over how much line, and what its leader must not cross."""

    reach_mm: float
    most_covered: float
    walls: Sequence[Segment] = ()


class Space:
    """A field being filled."""

    def __init__(self, limits: Box) -> None:
        self.limits = limits
        self._cells = Cells(limits)
        self._lettered = np.zeros(self._cells.shape, bool)
        self._taken = np.zeros(self._cells.shape, bool)  # lettering and what stands beside guarded lines
        self._beside = np.zeros(self._cells.shape, bool)  # where no guarded line may run
        self._ink = np.zeros(self._cells.shape)
        self._boxes = Rows(4)
        self._leaders = Rows(4)
        self._lines = Rows(5)  # the last number is the weight

    def letter(self, box: Box) -> None:
        """Take room for lettering: nothing may cross it any more."""
        self._lettered[self._cells.block(box)] = True
        self._taken[self._cells.block(box)] = True
        self._boxes.add(*box)

    def line(self, start: Point, end: Point, weight: float) -> None:
        """Note a line. Lettering over it costs ``weight`` for every millimetre covered."""
        self._lines.add(*start, *end, weight)
        rows, columns, share_mm = self._cells.along(start, end)
        np.add.at(self._ink, (rows, columns), weight * share_mm)

    def outline(self, points: tuple[Point, ...], weight: float) -> None:
        """Note a closed outline."""
        for start, end in zip(points, points[1:] + points[:1], strict=True):
            self.line(start, end, weight)

    def area(self, points: tuple[Point, ...], weight: float) -> None:
        """Note a filled outline. Lettering over it costs ``weight`` for every square millimetre covered."""
        block, inside = self._cells.inside(points)
        self._ink[block] += inside * weight

    def guard(self, start: Point, end: Point) -> None:
        """Note a line that no lettering may cover: a dimension line or a leader."""
        self.line(start, end, 2.0)
        for around, reach_mm in ((self._taken, _ROUND_MM), (self._beside, _APART_MM)):
            for side in np.arange(-reach_mm, reach_mm + 0.1, 1.0):
                rows, columns, _ = self._cells.along(*_beside(start, end, float(side)))
                around[rows, columns] = True

    def lead(self, start: Point, end: Point) -> None:
        """Note a leader, which no lettering may cover and other leaders go out of the way of."""
        self.guard(start, end)
        self._leaders.add(*start, *end)

    def is_free(self, box: Box) -> bool:
        """Tell whether lettering may stand here."""
        return self.limits.holds(box) and not self._taken[self._cells.block(box)].any()

    def is_clear(self, start: Point, end: Point) -> bool:
        """Tell whether a line meets no lettering."""
        rows, columns, _ = self._cells.along(start, end)
        return not self._lettered[rows, columns].any()

    def is_apart(self, start: Point, end: Point) -> bool:
        """Tell whether a line keeps clear of every dimension line and leader."""
        rows, columns, _ = self._cells.along(start, end)
        ends = int(_BEAD_MM / SAMPLE_MM)  # two in a chain may meet at their ends
        return not self._beside[rows[ends:-ends], columns[ends:-ends]].any()

    def crossings(self, lines: Sequence[Segment]) -> float:
        """Give the weighted number of lines that some lines cross."""
        return float(self._crossings(_array(lines)).sum())

    def closeness(self, start: Point, end: Point) -> float:
        """Give the weighted length of the lines that a line runs beside or crosses."""
        samples = [self._cells.along(*_beside(start, end, side)) for side in (-1.0, 0.0, 1.0)]
        return sum(float(self._ink[rows, columns].sum()) for rows, columns, _ in samples) * SAMPLE_MM

    def covered(self, box: Box) -> float:
        """Give the weighted length of the lines that a box covers."""
        return float(self._ink[self._cells.block(box)].sum())

    def spot(self, size_mm: tuple[float, float], targets: tuple[Point, ...], terms: Terms) -> Spot | None:
        """Find the best place for lettering within reach of the nearest of its targets, or None.

        Weighed are distance, lines covered and lines that the leader crosses; lettering that would cover more
        than ``most_covered`` weighted millimetres of line could not be read.
        """
        boxes, covered = self._places(*size_mm, targets, terms)
        if not len(boxes):
            return None
        ends, distances = _nearest(boxes, np.array(targets))
        leaders = np.hstack([np.clip(ends, boxes[:, :2], boxes[:, 2:]), ends])
        ways = np.abs(leaders[:, 2:] - leaders[:, :2]).min(axis=1)
        odd = (distances >= _LEADER_FROM_MM) & ((ways < _SLANT_MM) | (distances < _SHORT_LEADER_MM))
        known = distances + covered * _COVERED_COST + odd * _ODD_COST_MM
        worth = np.flatnonzero(distances <= terms.reach_mm)
        best = self._cheapest(leaders, known, worth[np.argsort(known[worth], kind="stable")], terms)
        if best is None:
            return None
        return _spot(boxes[best], None if distances[best] < _LEADER_FROM_MM else leaders[best])

    def _places(
        self, width_mm: float, height_mm: float, targets: tuple[Point, ...], terms: Terms
    ) -> tuple[Array, Array]:
        """Lay a grid about the targets, in step with the first; give what is free, and how much it covers."""
        (x, y), limits, reach = targets[0], self.limits, terms.reach_mm
        xs, ys = zip(*targets, strict=True)
        low_x = max(limits.x_min, min(xs) - reach - width_mm)
        low_y = max(limits.y_min, min(ys) - reach - height_mm)
        lefts = _in_step(x + 1.0, low_x, min(limits.x_max - width_mm, max(xs) + reach))
        tops = _in_step(y - height_mm / 2, low_y, min(limits.y_max - height_mm, max(ys) + reach))
        if not len(lefts) or not len(tops):
            return np.empty((0, 4)), np.empty(0)
        rows, columns = self._cells.spans(lefts, lefts + width_mm, tops, tops + height_mm)
        covered = sums_over(self._ink, rows, columns)
        down, across = np.nonzero(
            (sums_over(self._taken, rows, columns) == 0) & (covered <= terms.most_covered)
        )
        left, top = lefts[across], tops[down]
        boxes = np.column_stack([left, top, left + width_mm, top + height_mm])
        return boxes, covered[down, across]

    def _crossings(self, segments: Array) -> Array:
        """Give the weighted number of lines that each segment crosses."""
        lines = self._lines.all()
        weighted: Array = crossed(segments, lines[:, :4]) @ lines[:, 4]
        return weighted

    def _cheapest(self, leaders: Array, known: Array, order: Indices, terms: Terms) -> int | None:
        """Give the place that costs least with its leader; ``order`` goes by what is known to be its cost."""
        best, best_cost = None, np.inf
        for batch in np.split(order, range(_BATCH, len(order), _BATCH)):
            if not len(batch) or known[batch[0]] >= best_cost:
                break  # leaders make nothing cheaper
            costs = known[batch] + self._leader_costs(leaders[batch], terms)
            cheapest = int(np.argmin(costs))
            if costs[cheapest] < best_cost:
                best, best_cost = int(batch[cheapest]), costs[cheapest]
        return best

    def _leader_costs(self, leaders: Array, terms: Terms) -> Array:
        """Weigh what leaders cross, above all other leaders; infinite where that is lettering or a wall."""
        costs: Array = self._crossings(leaders) * _CROSSING_COST_MM
        costs += crossed(leaders, self._leaders.all()).sum(axis=1) * _LEADERS_CROSSED_MM
        barred = (lengths_inside(self._boxes.all(), leaders) > 0).any(axis=0)
        if terms.walls:
            barred |= crossed(leaders, _array(terms.walls)).any(axis=1)
        costs[barred] = np.inf
        return costs


def _array(segments: Sequence[Segment]) -> Array:
    return np.array(segments).reshape(-1, 4)


def _beside(start: Point, end: Point, by_mm: float) -> Segment:
    """Give a line moved to a side."""
    x, y = end[0] - start[0], end[1] - start[1]
    off = by_mm / max(hypot(x, y), 1e-9)
    return (start[0] - y * off, start[1] + x * off), (end[0] - y * off, end[1] + x * off)


def _spot(box: Array, leader: Array | None) -> Spot:
    x_min, y_min, x_max, y_max = (float(v) for v in box)
    if leader is None:
        return Spot(Box(x_min, y_min, x_max, y_max), None)
    x0, y0, x1, y1 = (float(v) for v in leader)
    return Spot(Box(x_min, y_min, x_max, y_max), ((x0, y0), (x1, y1)))


def _in_step(origin: float, low: float, high: float) -> Array:
    first = origin + np.ceil((low - origin) / _STEP_MM) * _STEP_MM
    return np.arange(first, high + 1e-9, _STEP_MM)


def _nearest(boxes: Array, targets: Array) -> tuple[Array, Array]:
    """Give for each box the nearest target and how far away it is."""
    xs = np.clip(targets[:, 0], boxes[:, 0, None], boxes[:, 2, None]) - targets[:, 0]
    ys = np.clip(targets[:, 1], boxes[:, 1, None], boxes[:, 3, None]) - targets[:, 1]
    squares = xs * xs + ys * ys
    nearest = squares.argmin(axis=1)
    return targets[nearest], np.sqrt(squares[np.arange(len(boxes)), nearest])
