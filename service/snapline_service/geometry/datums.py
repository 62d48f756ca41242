"""Where the datums of a vehicle are, and which inputs each of their coordinates is made of.

Every coordinate carries its slopes, d value / d input, so that the covariance can be propagated exactly.
"""

from collections.abc import Mapping
from math import cos, radians, sin
from typing import NamedTuple

from snapline_service.errors import MissingDimension, UnknownName
from snapline_service.geometry.input_words import input_words
from snapline_service.geometry.names import nearest_name
from snapline_service.geometry.values import Sensor, VehicleGeometry


class Measured(NamedTuple):
    """A value and its slopes: pairs of an input's name and d value / d input."""

    value: float
    slopes: tuple[tuple[str, float], ...] = ()


class DatumPoint(NamedTuple):
    """A point of the vehicle frame [mm]."""

    x: Measured
    y: Measured


class AimLine(NamedTuple):
    """A line through a point, its direction [degrees from the vehicle's x axis], and whether it can turn."""

    through: DatumPoint
    yaw: Measured
    cos: float
    sin: float

    @property
    def can_turn(self) -> bool:
        """Say whether the direction is an input; the centreline's is not."""
        return bool(self.yaw.slopes)


ZERO = Measured(0.0)
ORIGIN = DatumPoint(ZERO, ZERO)
CENTRELINE = AimLine(ORIGIN, ZERO, cos=1.0, sin=0.0)

Terms = tuple[tuple[str, float], ...]

# A coordinate is a sum of dimensions, each with a factor. The x axis starts at the rear axle.
LINE_X_TERMS: Mapping[str, Terms] = {
    "front_bumper": (("wheelbase_mm", 1.0), ("front_overhang_mm", 1.0)),
    "rear_bumper": (("rear_overhang_mm", -1.0),),
    "front_axle": (("wheelbase_mm", 1.0),),
    "rear_axle": (),
}
WHEEL_TERMS: Mapping[str, tuple[Terms, Terms]] = {
    "wheel:front_left": ((("wheelbase_mm", 1.0),), (("front_track_mm", 0.5),)),
    "wheel:front_right": ((("wheelbase_mm", 1.0),), (("front_track_mm", -0.5),)),
    "wheel:rear_left": ((), (("rear_track_mm", 0.5),)),
    "wheel:rear_right": ((), (("rear_track_mm", -0.5),)),
}
AIM_LINES = ("centreline", "thrust_line")
ALONG_DATUMS = (*LINE_X_TERMS, *WHEEL_TERMS)
LATERAL_DATUMS = ("aim_line", "centreline", *WHEEL_TERMS)
HEIGHT_DATUMS = ("floor",)


def dimension_mm(vehicle: VehicleGeometry, field: str) -> float:
    """Return a dimension, or raise MissingDimension with its name."""
    value: float | None = getattr(vehicle, field)
    if value is None:
        raise MissingDimension(
            f"The vehicle's {input_words(field)} is needed and not given.",
            pointer=f"/vehicle/{field}",
            mend=f"Give vehicle.{field}, measured on the vehicle or from its documents.",
        )
    return value


def sum_of_dimensions(vehicle: VehicleGeometry, terms: Terms) -> Measured:
    """Return the sum of dimensions times their factors."""
    return Measured(
        sum(factor * dimension_mm(vehicle, field) for field, factor in terms),
        tuple((f"vehicle.{field}", factor) for field, factor in terms),
    )


def require_known(vehicle: VehicleGeometry, name: str, allowed: tuple[str, ...], pointer: str) -> None:
    """Raise UnknownName unless the name is allowed here or a sensor of this vehicle."""
    is_sensor = name.startswith("sensor:")
    if name in allowed or (is_sensor and name.removeprefix("sensor:") in vehicle.sensors):
        return
    raise UnknownName(
        f"This vehicle has no '{name}'." if is_sensor else f"'{name}' is not a datum here.",
        pointer=pointer,
        mend=nearest_name(name, (*allowed, *(f"sensor:{sensor}" for sensor in vehicle.sensors))),
    )


def _sensor(vehicle: VehicleGeometry, datum: str) -> tuple[Sensor, str]:
    name = datum.removeprefix("sensor:")
    return vehicle.sensors[name], f"vehicle.sensors.{name}"


def point_datum(
    vehicle: VehicleGeometry, datum: str, *, need_x: bool = True, need_y: bool = True
) -> DatumPoint:
    """Return a wheel centre or a sensor; a coordinate that is not needed is 0 and may be missing.

    These are physical points: they do not turn with the thrust line.
    """
    if datum in WHEEL_TERMS:
        x_terms, y_terms = WHEEL_TERMS[datum]
        return DatumPoint(
            sum_of_dimensions(vehicle, x_terms) if need_x else ZERO,
            sum_of_dimensions(vehicle, y_terms) if need_y else ZERO,
        )
    sensor, key = _sensor(vehicle, datum)
    return DatumPoint(
        Measured(sensor.x_mm, ((f"{key}.x_mm", 1.0),)), Measured(sensor.y_mm, ((f"{key}.y_mm", 1.0),))
    )


def height_datum(vehicle: VehicleGeometry, datum: str) -> Measured:
    """Return the height [mm] of the floor (0) or of a sensor above the plane of the tyre contacts."""
    if datum == "floor":
        return ZERO
    sensor, key = _sensor(vehicle, datum)
    return Measured(sensor.z_mm, ((f"{key}.z_mm", 1.0),))


def aim_line(vehicle: VehicleGeometry, name: str) -> AimLine:
    """Return the centreline or thrust line through the vehicle's origin, or a sensor's line through it."""
    if name == "centreline":
        return CENTRELINE
    if name == "thrust_line":
        through, yaw_deg, key = ORIGIN, vehicle.thrust_yaw_deg, "vehicle.thrust_yaw_deg"
    else:
        sensor, sensor_key = _sensor(vehicle, name)
        through, yaw_deg, key = point_datum(vehicle, name), sensor.yaw_deg, f"{sensor_key}.yaw_deg"
    angle = radians(yaw_deg)
    return AimLine(through, Measured(yaw_deg, ((key, 1.0),)), cos=cos(angle), sin=sin(angle))


def crossing(aim: AimLine, line_x: Measured) -> DatumPoint:
    """Return where an aim line meets the line x = ``line_x``; the aim line must not be parallel to it.

    From y = O_y + (x - O_x) tan a.
    """
    tan, run_mm = aim.sin / aim.cos, line_x.value - aim.through.x.value
    y_slopes = (
        *((key, tan * slope) for key, slope in line_x.slopes),
        *((key, -tan * slope) for key, slope in aim.through.x.slopes),
        *aim.through.y.slopes,
        *((key, radians(run_mm / aim.cos**2) * slope) for key, slope in aim.yaw.slopes),
    )
    return DatumPoint(line_x, Measured(aim.through.y.value + run_mm * tan, y_slopes))
