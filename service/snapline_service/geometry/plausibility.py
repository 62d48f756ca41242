"""What cannot be is refused before it is computed with."""

from math import isfinite

from snapline_service.errors import InvalidValue
from snapline_service.geometry.names import escaped
from snapline_service.geometry.values import BayPose, Placement, VehicleGeometry

MAX_LENGTH_MM = 1_000_000.0
MAX_ANGLE_DEG = 360.0

POSITIVE_DIMENSIONS = ("wheelbase_mm", "front_track_mm", "rear_track_mm", "width_mm")
OVERHANGS = ("front_overhang_mm", "rear_overhang_mm")


def check(
    vehicle: VehicleGeometry, placement: Placement | None = None, *, bay_pose: BayPose | None = None
) -> None:
    """Raise InvalidValue at the first value that cannot be.

    Everything is finite, no length beyond 1 km and no angle beyond +/-360 degrees; wheelbase, tracks and
    width are above zero and overhangs not below. A dimension that is None passes: it is merely unknown.
    """
    _check_vehicle(vehicle)
    if placement is not None:
        _check_placement(placement)
    if bay_pose is not None:
        require_length(bay_pose.x_mm, "/bay_pose/x_mm")
        require_length(bay_pose.y_mm, "/bay_pose/y_mm")
        require_angle(bay_pose.heading_deg, "/bay_pose/heading_deg")


def _check_vehicle(vehicle: VehicleGeometry) -> None:
    for field in (*POSITIVE_DIMENSIONS, *OVERHANGS):
        value: float | None = getattr(vehicle, field)
        if value is not None:
            require = require_size if field in POSITIVE_DIMENSIONS else require_not_negative
            require(value, f"/vehicle/{field}")
    require_angle(vehicle.thrust_yaw_deg, "/vehicle/thrust_yaw_deg")
    for name, sensor in vehicle.sensors.items():
        pointer = f"/vehicle/sensors/{escaped(name)}"
        for field in ("x_mm", "y_mm", "z_mm"):
            require_length(getattr(sensor, field), f"{pointer}/{field}")
        for field in ("yaw_deg", "pitch_deg"):
            require_angle(getattr(sensor, field), f"{pointer}/{field}")


def _check_placement(placement: Placement) -> None:
    for field in ("along", "lateral", "height"):
        require_length(getattr(placement, field).distance_mm, f"/placement/{field}/distance_mm")
    for field in ("yaw_deg", "pitch_deg", "roll_deg"):
        require_angle(getattr(placement, field), f"/placement/{field}")


def require_length(value_mm: float, pointer: str) -> None:
    """Raise InvalidValue unless the length is finite and within +/-1 km."""
    _require(isfinite(value_mm) and abs(value_mm) <= MAX_LENGTH_MM, value_mm, pointer, "a length within 1 km")


def require_size(value_mm: float, pointer: str) -> None:
    """Raise InvalidValue unless the length is above zero and at most 1 km."""
    _require(0.0 < value_mm <= MAX_LENGTH_MM, value_mm, pointer, "a length above 0 and at most 1 km")


def require_not_negative(value_mm: float, pointer: str) -> None:
    """Raise InvalidValue unless the length is from zero to 1 km."""
    _require(0.0 <= value_mm <= MAX_LENGTH_MM, value_mm, pointer, "a length from 0 to 1 km")


def require_angle(value_deg: float, pointer: str) -> None:
    """Raise InvalidValue unless the angle is finite and within +/-360 degrees."""
    _require(
        isfinite(value_deg) and abs(value_deg) <= MAX_ANGLE_DEG, value_deg, pointer, "an angle within +/-360"
    )


def _require(possible: bool, value: float, pointer: str, wanted: str) -> None:
    if not possible:
        unit = "degrees" if pointer.endswith("_deg") else "mm"
        raise InvalidValue(f"{pointer} is {value:g}.", pointer=pointer, mend=f"Give {wanted}, in {unit}.")
