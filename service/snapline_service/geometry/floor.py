"""A vehicle and a fixture on a floor that is neither level nor flat.

Heights z count upwards, against gravity; x and y are the vehicle's. The vehicle stands on the plane that its
springs settle on: least squares through the tyre contacts, weighted by the wheel rates. Pitch is positive
nose down and roll positive left side up (ISO 8855).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from snapline_service.errors import InvalidValue
from snapline_service.geometry.floor_points import THINNEST, WHEELS, Contact, require_possible
from snapline_service.geometry.plausibility import require_length
from snapline_service.geometry.values import Position

Array = NDArray[np.float64]

MAX_SLOPE = 0.2  # 20 %: no workshop floor or lift is steeper; a reading is wrong
_NO_LENGTH = 1e-9
_STEP_MM = 0.1  # for slopes: everything is almost linear in the heights


@dataclass(frozen=True, slots=True)
class Tilt:
    """How a fixture's floor leans against the vehicle's plane, along the vehicle's axes and altogether."""

    pitch_deg: float
    roll_deg: float
    angle_deg: float


@dataclass(frozen=True, slots=True)
class FloorFigures:
    """What the floor does to a vehicle and a target, or the standard uncertainty of each of these.

    ``height_setting_mm`` is the target's height above the plane of the feet, plumb below it; the error is
    what a nominal height would be off. ``warp_mm`` is the front left contact minus the vehicle's plane. The
    tilt is None where the feet do not span a plane.
    """

    vehicle_pitch_deg: float
    vehicle_roll_deg: float
    target_in_room: Position
    height_setting_mm: float
    height_error_if_ignored_mm: float
    slope_mm_per_m: float
    warp_mm: float
    fixture_tilt: Tilt | None


def on_floor(
    contacts: Mapping[str, Contact],
    feet: Sequence[Position],
    target: Position,
    covariance_mm2: Array | None = None,
) -> tuple[FloorFigures, FloorFigures | None]:
    """Return the figures and, to first order, their standard uncertainties.

    The covariance is of the heights: contacts in the order of ``WHEELS``, then the feet. The plane of the
    feet is fitted by least squares; two feet, or more in a line, give a line that is level across, one foot a
    level plane. Raises InvalidValue for contacts or feet that cannot be.
    """
    require_possible(contacts, feet)
    require_length(target.x_mm, "/target/x_mm")
    require_length(target.y_mm, "/target/y_mm")
    require_length(target.z_mm, "/target/z_mm")
    wheels = [contacts[name] for name in WHEELS]
    fits = _Fits(wheels, feet)
    heights = np.array([wheel.z_mm for wheel in wheels] + [foot.z_mm for foot in feet])
    # One column for the heights as they are, and two for each height moved up and down.
    moved = _STEP_MM * np.eye(len(heights))
    columns = heights[:, None] + np.hstack([np.zeros((len(heights), 1)), moved, -moved])
    found = _figures(fits, columns, target)
    _require_moderate(found)
    value = _named(found[:, 0], _norm(found[_SLOPES, 0]), float(found[_ANGLE, 0]), spanned=fits.feet_span)
    if covariance_mm2 is None:
        return value, None
    up, down = found[:, 1 : len(heights) + 1], found[:, len(heights) + 1 :]
    jacobian = (up - down) / (2.0 * _STEP_MM)
    covariance = jacobian @ covariance_mm2 @ jacobian.T
    u = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    slope, lean = (_u_of_norm(found[rows, 0], covariance[rows, rows]) for rows in (_SLOPES, _LEAN))
    return value, _named(u, slope, lean, spanned=fits.feet_span)


# Rows of the figures. The slope is the length of two of them, as to first order the angle is of two others.
_SLOPES, _LEAN, _ANGLE, _FEET_SLOPES = slice(8, 10), slice(10, 12), 12, slice(13, 15)


class _Fits:
    """The two planes as matrices: what to multiply heights with."""

    def __init__(self, wheels: Sequence[Contact], feet: Sequence[Position]) -> None:
        roots = np.sqrt(np.array([wheel.rate for wheel in wheels]))
        columns = np.array([(1.0, wheel.x_mm, wheel.y_mm) for wheel in wheels])
        self.contacts: Array = columns
        self.vehicle: Array = np.linalg.pinv(roots[:, None] * columns) * roots
        places = np.array([(foot.x_mm, foot.y_mm) for foot in feet])
        self.centre: Array = places.mean(axis=0)
        around = places - self.centre
        self.feet_slopes: Array = np.linalg.pinv(around, rcond=THINNEST)
        self.feet_span = np.linalg.matrix_rank(self.feet_slopes) == 2


def _figures(fits: _Fits, heights: Array, target: Position) -> Array:
    """Return the figures of each column of heights, angles in degrees and slopes in mm per m."""
    wheels, feet = heights[:4], heights[4:]
    a, b, c = fits.vehicle @ wheels
    run = np.sqrt(1.0 + b * b)
    length = np.sqrt(1.0 + b * b + c * c)
    normal = np.stack([-b, -c, np.ones_like(b)]) / length
    forward = np.stack([np.ones_like(b), np.zeros_like(b), b]) / run
    left = np.cross(normal, forward, axis=0)
    room = target.x_mm * forward + target.y_mm * left + target.z_mm * normal
    room[2] += a
    along, across = fits.feet_slopes @ feet
    below = feet.mean(axis=0) + along * (room[0] - fits.centre[0]) + across * (room[1] - fits.centre[1])
    setting = room[2] - below
    # The feet's own normal as the vehicle sees it.
    seen = [-along * axis[0] - across * axis[1] + axis[2] for axis in (forward, left, normal)]
    return np.stack(
        [
            np.degrees(-np.arctan(b)),
            np.degrees(np.arctan(c / run)),
            *room,
            setting,
            target.z_mm - setting,
            wheels[0] - fits.contacts[0] @ np.stack([a, b, c]),
            1e3 * b,
            1e3 * c,
            np.degrees(np.arctan2(seen[0], seen[2])),
            np.degrees(-np.arctan2(seen[1], np.hypot(seen[0], seen[2]))),
            np.degrees(np.arctan2(np.hypot(seen[0], seen[1]), seen[2])),
            1e3 * along,
            1e3 * across,
        ]
    )


def _named(row: Array, slope: float, lean_deg: float, *, spanned: bool) -> FloorFigures:
    value = [float(figure) for figure in row]
    return FloorFigures(
        vehicle_pitch_deg=value[0],
        vehicle_roll_deg=value[1],
        target_in_room=Position(*value[2:5]),
        height_setting_mm=value[5],
        height_error_if_ignored_mm=value[6],
        slope_mm_per_m=slope,
        warp_mm=value[7],
        fixture_tilt=Tilt(value[10], value[11], lean_deg) if spanned else None,
    )


def _norm(pair: Array) -> float:
    return float(np.hypot(*pair))


def _u_of_norm(pair: Array, covariance: Array) -> float:
    """Return the uncertainty of a length: along its direction, or where it is zero the greatest of any."""
    length = _norm(pair)
    if length < _NO_LENGTH:
        return sqrt(max(float(np.linalg.eigvalsh(covariance)[-1]), 0.0))
    return sqrt(max(float(pair @ covariance @ pair), 0.0)) / length


def _require_moderate(found: Array) -> None:
    for rows, what, pointer in ((_SLOPES, "contacts", "/wheels"), (_FEET_SLOPES, "feet", "/feet")):
        slope = _norm(found[rows, 0]) * 1e-3
        if slope > MAX_SLOPE:
            raise InvalidValue(
                f"The {what} lie on a slope of {slope:.0%}.",
                pointer=pointer,
                mend=f"Look for a reading of another sign or unit: beyond {MAX_SLOPE:.0%} none is credible.",
            )
