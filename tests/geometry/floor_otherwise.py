"""The floor's figures by another road: numpy's least squares, scipy's rotations, zones by enumeration."""

from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]
WHEELS = ("front_left", "front_right", "rear_left", "rear_right")


class Figures(NamedTuple):
    """One value for each column of heights; the tilt holds where the feet span a plane."""

    vehicle_pitch_deg: Array
    vehicle_roll_deg: Array
    room_x_mm: Array
    room_y_mm: Array
    room_z_mm: Array
    height_setting_mm: Array
    slope_mm_per_m: Array
    warp_mm: Array
    tilt_pitch_deg: Array
    tilt_roll_deg: Array
    tilt_angle_deg: Array


def plane(places: Array, heights: Array, weights: Array | None = None) -> Array:
    """Return intercept and slopes of each column's plane, fitted by weighted least squares."""
    roots = np.ones(len(places)) if weights is None else np.sqrt(weights)
    columns = np.column_stack([np.ones(len(places)), places])
    fitted: Array = np.linalg.lstsq(roots[:, None] * columns, roots[:, None] * heights, rcond=None)[0]
    return fitted


def attitude(fitted: Array) -> Rotation:
    """Return the axes of bodies that stand on planes and look along the room's x, seen from above."""
    _, b, c = fitted
    ones, none = np.ones_like(b), np.zeros_like(b)
    up = np.stack([-b, -c, ones], axis=-1)
    ahead = np.stack([ones, none, b], axis=-1)
    up, ahead = (v / np.linalg.norm(v, axis=-1, keepdims=True) for v in (up, ahead))
    return Rotation.from_matrix(np.stack([ahead, np.cross(up, ahead), up], axis=-1))


def figures(contacts: Array, rates: Array, feet: Array, target: Array, heights: Array) -> Figures:
    """Return the figures; contacts and feet are places, ``heights`` has a column for each set of readings."""
    wheels, ground = heights[:4], heights[4:]
    car, floor = plane(contacts, wheels, rates), plane(feet, ground)
    body, stand = attitude(car), attitude(floor)
    yaw, pitch, roll = body.as_euler("ZYX", degrees=True).T
    assert np.allclose(yaw, 0.0)
    room = body.apply(target).T + np.stack([np.zeros_like(car[0]), np.zeros_like(car[0]), car[0]])
    # The feet's normal in the vehicle's axes; leaning forward is nose down, leaning right is left side up.
    seen = (body.inv() * stand).apply([0.0, 0.0, 1.0]).T
    return Figures(
        vehicle_pitch_deg=pitch,
        vehicle_roll_deg=roll,
        room_x_mm=room[0],
        room_y_mm=room[1],
        room_z_mm=room[2],
        height_setting_mm=room[2] - (floor[0] + floor[1] * room[0] + floor[2] * room[1]),
        slope_mm_per_m=1000.0 * np.hypot(car[1], car[2]),
        warp_mm=wheels[0] - (car[0] + car[1] * contacts[0, 0] + car[2] * contacts[0, 1]),
        tilt_pitch_deg=np.degrees(np.arctan2(seen[0], seen[2])),
        tilt_roll_deg=np.degrees(np.arcsin(-seen[1])),
        tilt_angle_deg=np.degrees(np.arccos(np.clip(seen[2], -1.0, 1.0))),
    )


def flatness(places: Array, heights: Array) -> Array:
    """Return the minimum zone of each column: the widest of any four points (Helly's theorem).

    Four points have one affine dependence, and their zone is twice the height that it leaves over.
    """
    widest: Array = np.zeros(heights.shape[1])
    for four in combinations(range(len(places)), 4):
        chosen = np.column_stack([np.ones(4), places[list(four)]])
        dependence = np.linalg.svd(chosen.T)[2][-1]
        zone = 2.0 * np.abs(dependence @ heights[list(four)]) / np.abs(dependence).sum()
        widest = np.maximum(widest, zone)
    return widest
