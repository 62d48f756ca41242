"""A fixture that is set out by its points: how surely it stands, and how far each point may be off.

A rigid fixture follows its points: position and yaw are linear in their errors, with a row for each axis.
Points that are set out from the same marks err together, so yaw needs their joint covariance.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, degrees, inf, radians, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.marks import Marks
from snapline_service.geometry.setting_out import Best, Tolerance
from snapline_service.geometry.values import Point

Array = NDArray[np.float64]
Axis = Literal["along", "lateral", "yaw"]

# Guard band of JCGM 106 for a risk of 5 % at one limit: 1.645 u.
GUARD = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether an axis can be proven inside its tolerance [mm, degrees]: only if the guard band leaves room.

    ``acceptance`` is what it leaves, None if nothing.
    """

    axis: Axis
    tolerance: float
    u: float

    @property
    def acceptance(self) -> float | None:
        """Return the tolerance less the guard band."""
        left = self.tolerance - GUARD * self.u
        return left if left > 0.0 else None


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """How a fixture's axes follow from the errors of its points: rows along, lateral and yaw [degrees]."""

    rows: dict[Axis, Array]
    limits: dict[Axis, float]


def body(
    points: Sequence[Point],
    reference: Point,
    aim_yaw_deg: float,
    limits: dict[Axis, float],
    *,
    reference_is_a_point: bool,
) -> Body:
    """Return the axes of a fixture in the frame of its aim line, from points on the floor.

    Place and yaw are the best fit to all the points. Where the first point is the reference itself, it alone
    gives the place and the others the yaw. A single point gives no yaw.
    """
    arms = np.array(points) - np.array(reference)
    fit_from = arms[1:] if reference_is_a_point else arms
    fitted = _fit(fit_from) if len(fit_from) > 1 else None
    place = np.zeros((2, 2 * len(points)))
    if reference_is_a_point or fitted is None:
        place[:, :2] = np.eye(2)
    else:
        place = fitted[:2]
    a = radians(aim_yaw_deg)
    rows: dict[Axis, Array] = {
        "along": np.array([cos(a), sin(a)]) @ place,
        "lateral": np.array([-sin(a), cos(a)]) @ place,
    }
    if fitted is not None:
        before = np.zeros(2 if reference_is_a_point else 0)
        rows["yaw"] = np.concatenate([before, fitted[2] * degrees(1.0)])
    return Body(rows, {axis: limit for axis, limit in limits.items() if axis in rows})


def _fit(arms: Array) -> Array:
    """Return d(x, y, yaw [rad]) / d(points) of the best fit of a rigid body."""
    design = np.zeros((2 * len(arms), 3))
    design[0::2, 0] = design[1::2, 1] = 1.0
    design[0::2, 2], design[1::2, 2] = -arms[:, 1], arms[:, 0]
    return np.asarray(np.linalg.pinv(design))


def tolerance_of_each_point(held: Body, basis: Sequence[Array]) -> Tolerance:
    """Return the equal tolerance of every point that keeps each axis inside its own, whatever the errors are.

    ``basis`` has for each point its critical direction and the one across it. Both directions get the same
    first, and then what is left over.
    """
    critical, other = inf, inf
    shares = [(*_shares(held.rows[axis], basis), limit) for axis, limit in held.limits.items()]
    if shares:
        equal = min(limit / (a + b) for a, b, limit in shares)
        critical = min(((limit - b * equal) / a for a, b, limit in shares if a > 1e-9), default=inf)
        reached = critical if critical < inf else 0.0
        other = min(((limit - a * reached) / b for a, b, limit in shares if b > 1e-9), default=inf)
    return Tolerance(critical, other)


def _shares(row: Array, basis: Sequence[Array]) -> tuple[float, float]:
    parts = [np.abs(axes @ row[2 * k : 2 * k + 2]) for k, axes in enumerate(basis)]
    return float(sum(part[0] for part in parts)), float(sum(part[1] for part in parts))


def joint_covariance(marks: Marks, targets: Sequence[str], found: Sequence[Best]) -> Array:
    """Return the covariance (2n, 2n) of where points come to stand, less where they ought to be.

    Each is set out by its own two tapes; the marks are shared, and the targets stand among ``marks`` with
    what they share with them.
    """
    weights = point_weights(marks, targets, found)
    tapes = np.zeros((2 * len(found), 2 * len(found)))
    for k, best in enumerate(found):
        rows = slice(2 * k, 2 * k + 2)
        tapes[rows, rows] = (best.inverse * best.u_tape_mm**2) @ best.inverse.T
    return np.asarray(weights @ marks.covariance_mm2 @ weights.T + tapes)


def point_weights(marks: Marks, targets: Sequence[str], found: Sequence[Best]) -> Array:
    """Return d(points, less their targets) / d(marks and targets), whatever the tapes' own errors."""
    weights = np.zeros((2 * len(found), 2 * len(marks.names)))
    for k, (target, best) in enumerate(zip(targets, found, strict=True)):
        rows = slice(2 * k, 2 * k + 2)
        for column, mark in enumerate(best.marks):
            at = 2 * marks.index(mark)
            weights[rows, at : at + 2] += np.outer(best.inverse[:, column], best.towards[column])
        own = 2 * marks.index(target)
        weights[rows, own : own + 2] -= np.eye(2)
    return weights


def u_of(row: Array, covariance: Array) -> float:
    """Return the standard uncertainty along one row."""
    return float(np.sqrt(max(float(row @ covariance @ row), 0.0)))


def proofs(held: Body, covariance: Array) -> list[Proof]:
    """Return for each limited axis whether it can be proven."""
    return [Proof(axis, limit, u_of(held.rows[axis], covariance)) for axis, limit in held.limits.items()]
