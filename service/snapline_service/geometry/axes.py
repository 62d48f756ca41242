"""Rotations in the sense of ISO 8855 and the step from one frame to the next.

R = Rz(yaw) Ry(pitch) Rx(roll), v_parent = R v_body + t: yaw first, then pitch about the new y, then roll
about the new x. Positive yaw turns the nose left, positive pitch puts it down, positive roll lifts the left.
"""

from math import cos, radians, remainder, sin

from snapline_service.geometry.values import BayPose, Point, Pose

Vector = tuple[float, float, float]


def normalised_deg(angle_deg: float) -> float:
    """Return the equal angle in (-180, 180]."""
    wrapped = remainder(angle_deg, 360.0)
    return 180.0 if wrapped == -180.0 else wrapped + 0.0  # + 0.0 turns -0.0 into 0.0


def turned(point: Point, angle_deg: float) -> Point:
    """Turn a point about the origin, positive counter-clockwise from above."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    x_mm, y_mm = point
    return c * x_mm - s * y_mm, s * x_mm + c * y_mm


def rotation(yaw_deg: float, pitch_deg: float, roll_deg: float) -> tuple[Vector, Vector, Vector]:
    """Return the rows of R = Rz(yaw) Ry(pitch) Rx(roll)."""
    cy, sy = cos(radians(yaw_deg)), sin(radians(yaw_deg))
    cp, sp = cos(radians(pitch_deg)), sin(radians(pitch_deg))
    cr, sr = cos(radians(roll_deg)), sin(radians(roll_deg))
    return (
        (cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr),
        (sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr),
        (-sp, cp * sr, cp * cr),
    )


def body_point_in_parent(pose: Pose, body_point: Vector) -> Vector:
    """Return where a point of the body frame [mm] lies in the frame of the pose, all three angles used."""
    x, y, z = (
        sum(r * v for r, v in zip(row, body_point, strict=True))
        for row in rotation(pose.yaw_deg, pitch_deg=pose.pitch_deg, roll_deg=pose.roll_deg)
    )
    return pose.x_mm + x, pose.y_mm + y, pose.z_mm + z


def in_bay(pose: Pose, bay_pose: BayPose) -> Pose:
    """Return a pose of the vehicle frame in the bay frame: p_B = t + Rz(heading) p_V."""
    x_mm, y_mm = turned((pose.x_mm, pose.y_mm), bay_pose.heading_deg)
    return Pose(
        x_mm=bay_pose.x_mm + x_mm,
        y_mm=bay_pose.y_mm + y_mm,
        z_mm=pose.z_mm,
        yaw_deg=normalised_deg(pose.yaw_deg + bay_pose.heading_deg),
        pitch_deg=pose.pitch_deg,
        roll_deg=pose.roll_deg,
    )
