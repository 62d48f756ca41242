"""Standard uncertainties by input name: which names there are, and how they add up to a covariance."""

from collections.abc import Mapping
from math import fsum, isfinite, sqrt

from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.geometry.names import escaped, nearest_name
from snapline_service.geometry.plausibility import MAX_ANGLE_DEG, MAX_LENGTH_MM
from snapline_service.geometry.values import Contribution, Point, VehicleGeometry

Covariance = tuple[tuple[float, float], tuple[float, float]]

SENSOR_PREFIX = "vehicle.sensors."
SENSOR_FIELDS = ("x_mm", "y_mm", "z_mm", "yaw_deg", "pitch_deg")
INPUTS = (
    "vehicle.wheelbase_mm",
    "vehicle.front_track_mm",
    "vehicle.rear_track_mm",
    "vehicle.front_overhang_mm",
    "vehicle.rear_overhang_mm",
    "vehicle.width_mm",
    "vehicle.thrust_yaw_deg",
    "placement.along.distance_mm",
    "placement.lateral.distance_mm",
    "placement.height.distance_mm",
    "placement.yaw_deg",
    "placement.pitch_deg",
    "placement.roll_deg",
    "bay_pose.x_mm",
    "bay_pose.y_mm",
    "bay_pose.heading_deg",
)
_INPUT_SET = frozenset(INPUTS)


def require_uncertainties(vehicle: VehicleGeometry, standard_uncertainty: Mapping[str, float]) -> None:
    """Raise UnknownName for a name that is no input, InvalidValue for a value that is no uncertainty.

    An input without influence on this placement (an unused track, a bay pose that is not given) is no error.
    """
    for key, u in standard_uncertainty.items():
        if key not in _INPUT_SET and not _is_sensor_input(vehicle, key):
            raise UnknownName(
                f"'{key}' is not an input of a placement of this vehicle.",
                pointer=f"/standard_uncertainty/{escaped(key)}",
                mend=nearest_name(key, (*INPUTS, *_sensor_inputs(vehicle))),
            )
        limit = MAX_ANGLE_DEG if key.endswith("_deg") else MAX_LENGTH_MM
        if not (isfinite(u) and 0 <= u <= limit):
            raise InvalidValue(
                f"The standard uncertainty of {key} is {u:g}.",
                pointer=f"/standard_uncertainty/{escaped(key)}",
                mend=f"Give one standard deviation from 0 to {limit:g}, in the unit of the input.",
            )


def _is_sensor_input(vehicle: VehicleGeometry, key: str) -> bool:
    name, _, field = key.removeprefix(SENSOR_PREFIX).rpartition(".")  # a name may itself contain dots
    return key.startswith(SENSOR_PREFIX) and name in vehicle.sensors and field in SENSOR_FIELDS


def _sensor_inputs(vehicle: VehicleGeometry) -> list[str]:
    return [f"{SENSOR_PREFIX}{name}.{field}" for name in vehicle.sensors for field in SENSOR_FIELDS]


def combined(slopes: Mapping[str, float], standard_uncertainty: Mapping[str, float]) -> float:
    """Return the standard uncertainty of one quantity from its slopes: the root of the sum of squares."""
    return sqrt(fsum((slope * standard_uncertainty.get(key, 0.0)) ** 2 for key, slope in slopes.items()))


def propagate(
    slopes: Mapping[str, Point], standard_uncertainty: Mapping[str, float]
) -> tuple[Covariance, tuple[Contribution, ...] | None]:
    """Return J S J^T of a point and each given input's share of its trace, largest first.

    The shares are None when the trace is zero.
    """
    xx = xy = yy = 0.0
    parts: dict[str, float] = {}
    for key, u in standard_uncertainty.items():
        dx, dy = slopes.get(key, (0.0, 0.0))
        x, y = dx * u, dy * u
        xx, xy, yy = xx + x * x, xy + x * y, yy + y * y
        parts[key] = x * x + y * y
    trace = fsum(parts.values())
    shares = None
    if trace > 0.0:
        largest_first = sorted(parts.items(), key=lambda item: (-item[1], item[0]))
        shares = tuple(Contribution(key, part / trace) for key, part in largest_first)
    return ((xx, xy), (xy, yy)), shares
