"""A drawing field as cells of a millimetre, for asking quickly what stands where."""

from functools import lru_cache
from math import ceil, floor, hypot

import numpy as np
from numpy.typing import NDArray

from snapline_service.sheets.drawing import Point
from snapline_service.sheets.lettering import Box

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Block = tuple[slice, slice]
Spans = tuple[Indices, Indices]
SAMPLE_MM = 0.5


class Cells:
    """The cells of a field, counted from its upper left corner, rows first."""

    def __init__(self, limits: Box) -> None:
        self._x, self._y = limits.x_min, limits.y_min
        self._across = ceil(limits.x_max - limits.x_min) + 1
        self._down = ceil(limits.y_max - limits.y_min) + 1

    @property
    def shape(self) -> tuple[int, int]:
        """How many rows there are, and how many cells in each."""
        return self._down, self._across

    def block(self, box: Box) -> Block:
        """Give the cells that a box touches."""
        rows = slice(max(0, floor(box.y_min - self._y)), max(0, ceil(box.y_max - self._y)))
        return rows, slice(max(0, floor(box.x_min - self._x)), max(0, ceil(box.x_max - self._x)))

    def along(self, start: Point, end: Point) -> tuple[Indices, Indices, float]:
        """Give the cells under samples of a line, and how much of its length each sample stands for."""
        x, y, x_way, y_way = start[0] - self._x, start[1] - self._y, end[0] - start[0], end[1] - start[1]
        length_mm = hypot(x_way, y_way)
        count = max(1, ceil(length_mm / SAMPLE_MM))
        shares = _shares(count)
        xs, ys = (x + x_way * shares).astype(np.intp), (y + y_way * shares).astype(np.intp)
        if min(x, x + x_way, y, y + y_way) >= 0 and self._holds(max(x, x + x_way), max(y, y + y_way)):
            return ys, xs, length_mm / count
        inside = (xs > 0) & (xs < self._across) & (ys > 0) & (ys < self._down)
        return ys[inside], xs[inside], length_mm / count

    def _holds(self, x: float, y: float) -> bool:
        return x < self._across and y < self._down

    def inside(self, points: tuple[Point, ...]) -> tuple[Block, Flags]:
        """Give the cells about an outline, and which of them have their middle inside it."""
        xs, ys = zip(*points, strict=True)
        rows, columns = self.block(Box(min(xs), min(ys), max(xs), max(ys)))
        rows = slice(rows.start, min(rows.stop, self._down))
        columns = slice(columns.start, min(columns.stop, self._across))
        x = np.arange(columns.start, columns.stop) + 0.5 + self._x
        y = (np.arange(rows.start, rows.stop) + 0.5 + self._y)[:, None]
        odd = np.zeros((max(0, rows.stop - rows.start), max(0, columns.stop - columns.start)), bool)
        for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1], strict=True):
            if y0 != y1:  # a ray to the right leaves the outline once for every time it crosses an edge
                odd ^= ((y0 > y) != (y1 > y)) & (x < x0 + (y - y0) / (y1 - y0) * (x1 - x0))
        return (rows, columns), odd

    def spans(self, lefts: Array, rights: Array, tops: Array, bottoms: Array) -> tuple[Spans, Spans]:
        """Give the rows and the columns that intervals touch: the first, and the one after the last."""
        columns = np.floor(lefts - self._x).astype(np.intp), np.ceil(rights - self._x).astype(np.intp)
        return (np.floor(tops - self._y).astype(np.intp), np.ceil(bottoms - self._y).astype(np.intp)), columns


class Rows:
    """A table of numbers that grows by the row."""

    def __init__(self, width: int) -> None:
        self._table = np.empty((64, width))
        self._count = 0

    def add(self, *numbers: float) -> None:
        """Append a row."""
        if self._count == len(self._table):
            self._table = np.concatenate([self._table, np.empty_like(self._table)])
        self._table[self._count] = numbers
        self._count += 1

    def all(self) -> Array:
        """Give the rows so far."""
        return self._table[: self._count]


@lru_cache(1024)
def _shares(count: int) -> Array:
    """Give the middles of so many equal parts of a line."""
    return (np.arange(count) + 0.5) / count


def sums_over(values: Array | Flags, rows: Spans, columns: Spans) -> Array:
    """Give the sum of the cells of each span of rows by each span of columns (a summed-area table)."""
    (tops, bottoms), (lefts, rights) = rows, columns
    above, before = tops[0], lefts[0]
    part = values[above : bottoms[-1], before : rights[-1]]
    table = np.zeros((part.shape[0] + 1, part.shape[1] + 1))
    np.cumsum(part, axis=0, out=table[1:, 1:])
    np.cumsum(table, axis=1, out=table)
    down = table[bottoms - above] - table[tops - above]
    sums: Array = down[:, rights - before] - down[:, lefts - before]
    return sums
