"""From a placement sentence to a pose, with its uncertainty."""

from collections.abc import Mapping
from math import cos, radians, sin

from snapline_service.geometry.axes import in_bay, normalised_deg
from snapline_service.geometry.datums import HEIGHT_DATUMS, Measured, height_datum, require_known
from snapline_service.geometry.equations import Solution, sensitivities, solve
from snapline_service.geometry.uncertainty import combined, propagate, require_uncertainties
from snapline_service.geometry.values import BayPose, Placed, Placement, Point, Pose, VehicleGeometry


def place(
    vehicle: VehicleGeometry,
    placement: Placement,
    *,
    bay_pose: BayPose | None = None,
    standard_uncertainty: Mapping[str, float] | None = None,
) -> Placed:
    """Work out where a fixture's reference point stands and which way the fixture faces.

    A wheel or a sensor is a physical point and does not turn with the thrust line; a bumper or an axle is
    met where the aim line crosses it. Lateral distances are positive to the left of the aim direction, so
    from the centreline y = +l for an aim line that points forward and y = -l for one that points rearward.
    The attitude is Rz(aim) Rz(yaw) Ry(pitch) Rx(roll).

    ``standard_uncertainty`` [mm, degrees; k = 1] is keyed by input, for example ``vehicle.wheelbase_mm``.
    Plausible values are assumed: see ``check``. Raises UnknownName, InvalidValue, MissingDimension or
    DatumsDoNotFixAPoint (aim line within 2.9 degrees of a line that it should cross).
    """
    require_known(vehicle, placement.height.datum, HEIGHT_DATUMS, "/placement/height/datum")
    if standard_uncertainty:
        require_uncertainties(vehicle, standard_uncertainty)
    solution = solve(vehicle, placement)
    height = height_datum(vehicle, placement.height.datum)
    pose = Pose(
        x_mm=solution.point[0],
        y_mm=solution.point[1],
        z_mm=height.value + placement.height.distance_mm,
        yaw_deg=normalised_deg(solution.aim.yaw.value + placement.yaw_deg),
        pitch_deg=normalised_deg(placement.pitch_deg),
        roll_deg=normalised_deg(placement.roll_deg),
    )
    pose_in_bay = None if bay_pose is None else in_bay(pose, bay_pose)
    if not standard_uncertainty:
        return Placed(pose, pose_in_bay, None, None, None, None)

    covariance, contributions = propagate(_slopes_of_point(solution, bay_pose), standard_uncertainty)
    return Placed(
        in_vehicle=pose,
        in_bay=pose_in_bay,
        covariance_xy_mm2=covariance,
        contributions=contributions,
        u_z_mm=combined({"placement.height.distance_mm": 1.0, **dict(height.slopes)}, standard_uncertainty),
        u_yaw_deg=combined(_slopes_of_yaw(solution.aim.yaw, bay_pose), standard_uncertainty),
    )


def _slopes_of_point(solution: Solution, bay_pose: BayPose | None) -> dict[str, Point]:
    slopes = sensitivities(solution)
    if bay_pose is None:
        return slopes
    heading = radians(bay_pose.heading_deg)
    c, s = cos(heading), sin(heading)
    x, y = solution.point
    return {key: (c * dx - s * dy, s * dx + c * dy) for key, (dx, dy) in slopes.items()} | {
        "bay_pose.x_mm": (1.0, 0.0),
        "bay_pose.y_mm": (0.0, 1.0),
        "bay_pose.heading_deg": (radians(-s * x - c * y), radians(c * x - s * y)),
    }


def _slopes_of_yaw(aim_yaw: Measured, bay_pose: BayPose | None) -> dict[str, float]:
    slopes = {"placement.yaw_deg": 1.0, **dict(aim_yaw.slopes)}
    return slopes if bay_pose is None else slopes | {"bay_pose.heading_deg": 1.0}
