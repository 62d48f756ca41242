"""Straight segments by the dozen: which cross, and how much of each lies inside a box."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_NO_WAY_MM = 1e-9
_TOUCHING = 1e-6  # an end that lies on the other line, but for rounding, is no crossing


def crossed(segments: Array, others: Array) -> Flags:
    """Tell which segments properly cross which others: each has the other's ends on both its sides."""
    others_parted = _sides(segments, others[:, :2]) * _sides(segments, others[:, 2:]) < -_TOUCHING
    parted = _sides(others, segments[:, :2]) * _sides(others, segments[:, 2:]) < -_TOUCHING
    met: Flags = others_parted & parted.T
    return met


def lengths_inside(boxes: Array, segments: Array) -> Array:
    """Give the length of each segment inside each box (Liang and Barsky's clipping)."""
    enter_x, leave_x = _crossed_band(boxes[:, 0], boxes[:, 2], segments[:, 0], segments[:, 2])
    enter_y, leave_y = _crossed_band(boxes[:, 1], boxes[:, 3], segments[:, 1], segments[:, 3])
    enter, leave = np.maximum(enter_x, enter_y), np.minimum(leave_x, leave_y)
    share = np.maximum(np.minimum(leave, 1.0) - np.maximum(enter, 0.0), 0.0)
    lengths: Array = share * np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    return lengths


def _sides(lines: Array, points: Array) -> Array:
    """Give for each line and point a number whose sign tells on which side the point lies."""
    ways = lines[:, 2:] - lines[:, :2]
    starts = ways[:, 0] * lines[:, 1] - ways[:, 1] * lines[:, 0]
    sides: Array = ways[:, 0, None] * points[:, 1] - ways[:, 1, None] * points[:, 0] - starts[:, None]
    return sides


def _crossed_band(low: Array, high: Array, start: Array, end: Array) -> tuple[Array, Array]:
    """Give the shares of each segment's length at which it enters and leaves each band between two limits."""
    way = end - start
    level = np.abs(way) < _NO_WAY_MM
    step = np.where(level, _NO_WAY_MM, way)  # a level segment enters far off, or long before its start
    first, second = (low[:, None] - start) / step, (high[:, None] - start) / step
    enter: Array = np.minimum(first, second)
    leave: Array = np.maximum(first, second)
    return enter, leave
