"""Distances from marks to the feet of fixtures: what they are at a pose, and the poses that fit them best.

The marks' own errors are shared by all distances from a mark, also by those to different fixtures:
S = diag(u²) + J Σ Jᵀ with Σ the covariance of the marks.
"""

from collections.abc import Sequence
from math import radians

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.as_set_values import Body, Distance
from snapline_service.geometry.least_squares import Adjustment, adjust
from snapline_service.geometry.marks import Marks

Array = NDArray[np.float64]


class Distances:
    """Predicts distances from the poses of the bodies: x, y [mm] and yaw [degrees] of each in turn."""

    def __init__(self, marks: Marks, bodies: Sequence[Body], distances: Sequence[Distance]) -> None:
        self._marks = marks
        self._bodies = tuple(bodies)
        self._rows = np.array([marks.index(one.mark) for one in distances], dtype=np.intp)
        self._targets = {
            row: marks.index(one.target) for row, one in enumerate(distances) if one.target is not None
        }
        self._body = np.array([one.body for one in distances], dtype=np.intp)
        self._feet = np.array([bodies[one.body].feet[one.foot] for one in distances], dtype=np.float64)
        self._tape_mm2 = np.array([one.u_mm**2 for one in distances], dtype=np.float64)
        nominal = [(b.nominal.x_mm, b.nominal.y_mm, b.nominal.yaw_deg) for b in bodies]
        self._poses = np.array(nominal, dtype=np.float64)
        self._free = np.array([(True, True, not body.yaw_known) for body in bodies])

    @property
    def start(self) -> Array:
        """Return the nominal poses as parameters."""
        return np.asarray(self._poses[self._free])

    def body(self, index: int) -> Body:
        """Return one of the bodies."""
        return self._bodies[index]

    def columns(self, index: int) -> list[int]:
        """Return which parameters are those of a body."""
        first = int(self._free[:index].sum())
        return list(range(first, first + int(self._free[index].sum())))

    def poses(self, at: Array) -> Array:
        """Return the pose of every body, shape (bodies, 3)."""
        poses = self._poses.copy()
        poses[self._free] = at
        return poses

    def predict(self, at: Array) -> Array:
        """Return the distances."""
        sight, _ = self._sight(at)
        return np.hypot(sight[:, 0], sight[:, 1])

    def slopes(self, at: Array) -> Array:
        """Return their derivatives: the direction of each tape, and its lever about the body's origin."""
        sight, arm = self._sight(at)
        along = _unit(sight)
        lever = along[:, 1] * arm[:, 0] - along[:, 0] * arm[:, 1]
        slopes = np.zeros((len(sight), *self._poses.shape))
        each = np.arange(len(sight))
        slopes[each, self._body, :2] = along
        slopes[each, self._body, 2] = radians(1.0) * lever
        return slopes[:, self._free]

    def covariance(self, at: Array) -> Array:
        """Return S: what the tapes and the marks bring."""
        spread = self.spread(at)
        return np.diag(self._tape_mm2) + spread @ self._marks.covariance_mm2 @ spread.T

    def spread(self, at: Array) -> Array:
        """Return the derivatives by the marks' coordinates, and by those of the places that are wanted."""
        along = _unit(self._sight(at)[0])
        spread = np.zeros((len(along), len(self._marks.names), 2))
        spread[np.arange(len(along)), self._rows] = -along
        for row, target in self._targets.items():
            spread[row, target] += along[row]
        return spread.reshape(len(along), -1)

    def _sight(self, at: Array) -> tuple[Array, Array]:
        """Return the way from each mark to its foot, and from the body's origin to the foot."""
        pose = self.poses(at)[self._body]
        yaw = np.radians(pose[:, 2])
        c, s, x, y = np.cos(yaw), np.sin(yaw), self._feet[:, 0], self._feet[:, 1]
        arm = np.array([c * x - s * y, s * x + c * y]).T
        return pose[:, :2] + arm - self._marks.points_mm[self._rows], arm


def fit(model: Distances, distances: Sequence[Distance], start: Array | None = None) -> Adjustment:
    """Return the poses that fit the distances best. Raises numpy.linalg.LinAlgError as ``adjust`` does."""
    observed = np.array([one.distance_mm for one in distances], dtype=np.float64)
    return adjust(model, observed, model.start if start is None else start)


def _unit(sight: Array) -> Array:
    """Return directions of length 1; of a foot that is on its mark there is none, so zero."""
    length = np.hypot(sight[:, 0], sight[:, 1])[:, None]
    return np.asarray(sight / np.where(length > 0.0, length, 1.0))
