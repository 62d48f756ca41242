"""How the car comes in: straight along its own axis, through a door."""

import numpy as np

from snapline_service.geometry.bay_fit.values import FAR_MM, Part
from snapline_service.geometry.values import Polygon

# Long enough to end outdoors from anywhere in a bay.
REACH_MM = FAR_MM / 4


def ways_in(outline: Polygon, *, beside_mm: float = 0.0, height_mm: float | None = None) -> tuple[Part, Part]:
    """Return the strips that a car sweeps: driven in forwards (it reaches out behind) and backwards (ahead).

    ``outline`` is the car's, in its own frame. ``beside_mm`` is the room wanted on either side, mirrors and
    steering included. One of the two must be free. A strip ends outdoors, so it must go out through a door;
    nothing is assumed to be in the way outside.
    """
    points = np.asarray(outline, dtype=float)
    (rear, right), (front, left) = points.min(axis=0), points.max(axis=0)
    sides = right - beside_mm, left + beside_mm
    return (
        Part("the way in, forwards", "way_in", _box(rear - REACH_MM, rear, *sides), 0.0, height_mm),
        Part("the way in, backwards", "way_in", _box(front, front + REACH_MM, *sides), 0.0, height_mm),
    )


def _box(rear: float, front: float, right: float, left: float) -> Polygon:
    return (rear, right), (front, right), (front, left), (rear, left)
