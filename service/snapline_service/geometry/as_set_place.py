"""How far one fixture is off along the axes in which its tolerance is stated, and what is proven of each."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, radians, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.as_set_distances import Distances
from snapline_service.geometry.as_set_values import Body, FloorPose
from snapline_service.geometry.axes import normalised_deg, turned
from snapline_service.geometry.conformity import Verdict, judge_all
from snapline_service.geometry.least_squares import Adjustment

Array = NDArray[np.float64]

YAW = "yaw_deg"
VEHICLE_AXES = ("x_mm", "y_mm", YAW)
AIM_AXES = ("along_mm", "lateral_mm", YAW)


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One fixture as set. ``covariance`` is in the order x, y, yaw; errors, u and verdicts are by axis.

    ``rows`` are the derivatives of the errors by the parameters of the adjustment. A body whose yaw was taken
    as known has no error, no uncertainty and no verdict of it.
    """

    body: Body
    pose: FloorPose
    covariance: Array
    errors: Mapping[str, float]
    u: Mapping[str, float]
    rows: Mapping[str, Array]
    tolerances: Mapping[str, float]
    verdicts: Mapping[str, Verdict | None]
    joint_probability: float | None
    aim_deg: float

    @property
    def open_axes(self) -> list[str]:
        """Return the axes that have a tolerance and are not proven to keep it."""
        return [axis for axis, one in self.verdicts.items() if one and one.verdict != "conforms"]

    def corrected(self, axes: list[str]) -> FloorPose:
        """Return the pose with the errors along some axes taken away."""
        off = {axis: self.errors[axis] if axis in axes else 0.0 for axis in self.errors}
        along, across, *yaw = off.values()
        x_mm, y_mm = turned((along, across), self.aim_deg)
        return FloorPose(self.pose.x_mm - x_mm, self.pose.y_mm - y_mm, self.pose.yaw_deg - sum(yaw))


def place_of(
    model: Distances,
    fitted: Adjustment,
    body: int,
    tolerances: Mapping[str, float],
    alpha: float,
    *,
    aim_deg: float = 0.0,
    axes: tuple[str, ...] = VEHICLE_AXES,
) -> Place:
    """Return where one body of an adjustment stands, judged along axes turned by ``aim_deg``."""
    described = model.body(body)
    columns = model.columns(body)
    x_mm, y_mm, yaw_deg = (float(value) for value in model.poses(fitted.at)[body])
    pose, nominal = FloorPose(x_mm, y_mm, normalised_deg(yaw_deg)), described.nominal
    along, across = turned((pose.x_mm - nominal.x_mm, pose.y_mm - nominal.y_mm), -aim_deg)
    off = (along, across, normalised_deg(pose.yaw_deg - nominal.yaw_deg))
    errors = dict(zip(axes[: len(columns)], off, strict=False))
    rows = np.zeros((len(columns), len(fitted.at)))
    rows[:, columns] = _basis(aim_deg)[: len(columns), : len(columns)]
    covariance = rows @ fitted.covariance @ rows.T
    limits = {axis: limit for axis, limit in tolerances.items() if axis in errors}
    verdicts, joint = judge_all(errors, covariance, limits, alpha)
    return Place(
        body=described,
        pose=pose,
        covariance=fitted.covariance[np.ix_(columns, columns)],
        errors=errors,
        u={axis: sqrt(covariance[row, row]) for row, axis in enumerate(errors)},
        rows=dict(zip(errors, rows, strict=True)),
        tolerances=limits,
        verdicts=verdicts,
        joint_probability=joint,
        aim_deg=aim_deg,
    )


def _basis(aim_deg: float) -> Array:
    c, s = cos(radians(aim_deg)), sin(radians(aim_deg))
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
