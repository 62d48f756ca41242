"""The ground of a stage: its marks and targets with their joint covariance, and how each mark is made."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import dist

import numpy as np

from snapline_service.geometry.marks import Array, Marks
from snapline_service.geometry.setting_out import is_left_of
from snapline_service.geometry.values import Point
from snapline_service.setups.figures import Units, length

INPUT = "input:"
# An input that nobody stated is followed with a vanishing uncertainty: it adds nothing, and its covariance
# with a point over its variance is the point's slope.
TRACE_U = 1e-6

SHORT = {
    "front left wheel": "FL",
    "front right wheel": "FR",
    "rear left wheel": "RL",
    "rear right wheel": "RR",
    "front bumper": "BF",
    "rear bumper": "BR",
}


@dataclass(frozen=True, slots=True)
class Note:
    """How a mark is made."""

    short: str
    kind: str
    how: str
    made_from: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """All marks and targets of a stage with their joint covariance.

    ``primary`` are the car's own and the person's, ``auxiliary`` those made by string and tape from them.
    """

    joint: Marks
    primary: tuple[str, ...]
    auxiliary: tuple[str, ...]
    notes: dict[str, Note]
    unstated: tuple[str, ...]

    def slopes(self, weights: Array, name: str) -> Array:
        """Return d(weights . errors) / d(input) for an input that nobody stated an uncertainty of."""
        at = 2 * self.joint.index(INPUT + name)
        return np.asarray(weights @ self.joint.covariance_mm2[:, at] / TRACE_U**2)


def by_two_tapes(
    notes: Mapping[str, Note], point: Point, from_: Sequence[tuple[str, Point]], units: Units
) -> str:
    """Say how far a point is from each of two marks, and on which side of the line between them."""
    (one, one_at), (two, two_at) = ((mark_words(notes, name), at) for name, at in from_)
    far = [length(dist(point, at), units, whole=True) for _, at in from_]
    side = "left" if is_left_of(point, one_at, two_at) else "right"
    where = f"{side} of the line from {one} to {two}, seen from {one}"
    return f"{far[0]} from {one} and {far[1]} from {two}, {where}."


def mark_words(notes: Mapping[str, Note], name: str) -> str:
    """Name a mark so that nobody takes it for the wheel that it stands beside."""
    return f"mark {notes[name].short}"
