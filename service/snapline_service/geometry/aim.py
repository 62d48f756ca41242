"""From floor to aim and back: what a misplaced fixture does to a sensor, and how far it may be misplaced.

Seen from the sensor, bearing is positive to the left and elevation positive up (the opposite of ISO 8855
pitch). A level sensor frame is assumed: bearing is an angle in the plane of the tyre contacts.
"""

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, isfinite, pi, radians, sin, sqrt, tan

from snapline_service.errors import InvalidValue
from snapline_service.geometry.axes import normalised_deg
from snapline_service.geometry.values import Located

# Below this angle a shift runs along the line of sight and turns nothing but rounding.
_ALONG_SIGHT_RAD = 1e-9


@dataclass(frozen=True, slots=True)
class AimError:
    """What the sensor will learn wrong: change of bearing and elevation, and the miss at a range."""

    yaw_error_deg: float
    elevation_error_deg: float
    lateral_miss_mm: float


@dataclass(frozen=True, slots=True)
class FloorTolerance:
    """How far a point may move, either way and along one axis alone; None is 'this axis never matters'."""

    along_mm: float | None
    lateral_mm: float | None
    height_mm: float | None


def aim_error(sensor: Located, nominal: Located, actual: Located, range_mm: float) -> AimError:
    """Compare where a point is with where it should be, as seen from a sensor.

    ``lateral_miss_mm`` = range tan(yaw error), positive left; beyond +/-90 degrees it means nothing.
    """
    yaw_error_deg = normalised_deg(degrees(_bearing(sensor, actual) - _bearing(sensor, nominal)))
    return AimError(
        yaw_error_deg=yaw_error_deg,
        elevation_error_deg=degrees(_elevation(sensor, actual) - _elevation(sensor, nominal)),
        lateral_miss_mm=range_mm * tan(radians(yaw_error_deg)),
    )


def floor_tolerance(
    sensor: Located,
    nominal: Located,
    *,
    aim_yaw_deg: float,
    allowed_yaw_deg: float,
    allowed_elevation_deg: float | None = None,
) -> FloorTolerance:
    """Return how far a point may move from nominal before the sensor's aim error exceeds what is allowed.

    Each tolerance is the smaller one of the two senses, exact for that axis alone: 'along' the aim direction
    ``aim_yaw_deg``, 'lateral' across it, and height. A shift past the sensor itself is not considered.
    Raises InvalidValue for an allowance outside (0, 90) degrees or a nominal point above or below the sensor.
    """
    yaw = _allowance(allowed_yaw_deg, "/allowed_yaw_deg")
    elevation = None
    if allowed_elevation_deg is not None:
        elevation = _allowance(allowed_elevation_deg, "/allowed_elevation_deg")
    sight = _sight(sensor, nominal)
    if hypot(sight[0], sight[1]) == 0.0:
        raise InvalidValue(
            "The nominal point is straight above or below the sensor, so it has no bearing.",
            mend="Give a nominal point in front of the sensor.",
        )
    aim = radians(aim_yaw_deg)
    return FloorTolerance(
        along_mm=_horizontal_mm(sight, (cos(aim), sin(aim)), yaw, elevation),
        lateral_mm=_horizontal_mm(sight, (-sin(aim), cos(aim)), yaw, elevation),
        height_mm=None if elevation is None else _height_mm(sight, elevation),
    )


def _sight(sensor: Located, point: Located) -> tuple[float, float, float]:
    return point.x_mm - sensor.x_mm, point.y_mm - sensor.y_mm, point.z_mm - sensor.z_mm


def _bearing(sensor: Located, point: Located) -> float:
    x, y, _ = _sight(sensor, point)
    return atan2(y, x)


def _elevation(sensor: Located, point: Located) -> float:
    x, y, z = _sight(sensor, point)
    return atan2(z, hypot(x, y))


def _allowance(value_deg: float, pointer: str) -> float:
    if not (isfinite(value_deg) and 0.0 < value_deg < 90.0):
        raise InvalidValue(
            f"An allowed aim error of {value_deg:g} degrees cannot be used.",
            pointer=pointer,
            mend="Give an angle above 0 and below 90 degrees.",
        )
    return radians(value_deg)


def _horizontal_mm(
    sight: tuple[float, float, float], direction: tuple[float, float], yaw: float, elevation: float | None
) -> float | None:
    shifts = _shifts_by_bearing(sight, direction, yaw)
    if elevation is not None:
        shifts += _shifts_by_elevation(sight, direction, elevation)
    return min((abs(shift) for shift in shifts), default=None)


def _shifts_by_bearing(
    sight: tuple[float, float, float], direction: tuple[float, float], allowed: float
) -> list[float]:
    """Return the shifts that turn the bearing by the allowance, from the law of sines.

    Sensor, nominal point and shifted point make a triangle with the allowance at the sensor. With the angle
    phi between sight and shift the third angle is phi - allowance; the bearing never turns by phi or more.
    """
    x, y, _ = sight
    distance = hypot(x, y)
    angle = abs(atan2(x * direction[1] - y * direction[0], x * direction[0] + y * direction[1]))
    if min(angle, pi - angle) < _ALONG_SIGHT_RAD:
        return []
    return [distance * sin(allowed) / sin(phi - allowed) for phi in (angle, pi - angle) if phi > allowed]


def _shifts_by_elevation(
    sight: tuple[float, float, float], direction: tuple[float, float], allowed: float
) -> list[float]:
    """Return the horizontal shifts that change the elevation by the allowance, nearer or farther.

    Elevation e holds on a circle of radius |height| / tan|e| about the sensor's foot: cut it with the line.
    """
    x, y, height = sight
    steepness = atan2(abs(height), hypot(x, y))
    along, across = x * direction[0] + y * direction[1], x * direction[1] - y * direction[0]
    shifts = []
    for limit in (steepness + allowed, steepness - allowed):
        if height == 0.0 or not 0.0 < limit < pi / 2:
            continue
        half_chord_squared = (height / tan(limit)) ** 2 - across**2
        if half_chord_squared >= 0.0:
            half_chord = sqrt(half_chord_squared)
            shifts += [-along - half_chord, -along + half_chord]
    return shifts


def _height_mm(sight: tuple[float, float, float], allowed: float) -> float:
    """Return the change of height that uses up the allowance towards the level, where it takes less."""
    x, y, height = sight
    distance = hypot(x, y)
    return abs(height) - distance * tan(atan2(abs(height), distance) - allowed)
