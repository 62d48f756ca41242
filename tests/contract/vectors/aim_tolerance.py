"""Test vectors of floor tolerances from a sensor's allowed aim error."""

from collections.abc import Callable
from math import atan2, cos, degrees, hypot, radians, remainder, sin, tan
from typing import Any

import numpy as np
from scipy.optimize import brentq

from contract.vectors.cases import Case, Json, answered, file_of, refused, rounded

TANGENT = "Range times tangent; '1 degree at 100 m is 1.75 m' is the trade's common figure."
SOUGHT = "The smallest shift, either way, that uses up the allowance: sought by scanning and Brent's method."
TOLERANCE = {"mm": 0.001}
Vector = tuple[float, float, float]


def used(sight: Vector, moved: Vector, request: Json) -> float:
    """Return the larger part of an allowance that a moved point uses up."""

    def bearing(v: Vector) -> float:
        return degrees(atan2(v[1], v[0]))

    def elevation(v: Vector) -> float:
        return degrees(atan2(v[2], hypot(v[0], v[1])))

    parts = [abs(remainder(bearing(moved) - bearing(sight), 360.0)) / request["allowed_yaw_deg"]]
    if "allowed_elevation_deg" in request:
        parts.append(abs(elevation(moved) - elevation(sight)) / request["allowed_elevation_deg"])
    return float(max(parts))


def smallest_shift(sight: Vector, axis: Vector, request: Json) -> float | None:
    """Return the smallest shift along an axis that uses up an allowance, or None if none does."""
    across = hypot(sight[0] * axis[1] - sight[1] * axis[0], 0.0)
    on_sight = axis[2] == 0.0 and across < 1e-6
    towards = -np.sign(sight[0] * axis[0] + sight[1] * axis[1])
    found = []
    for sense in (1.0, -1.0):

        def excess(shift: float, sense: float = sense) -> float:
            x, y, z = (s + sense * shift * a for s, a in zip(sight, axis, strict=True))
            return used(sight, (x, y, z), request) - 1.0

        # On the line of sight, a shift past the sensor is not considered.
        farthest = hypot(*sight[:2]) * (1 - 1e-9) if on_sight and sense == towards else 1e8
        found += _first_root(excess, np.geomspace(1e-4, farthest, 40_000))
    return min(found, default=None)


def _first_root(excess: Callable[[float], float], scanned: Any) -> list[float]:
    before = scanned[0]
    for shift in scanned[1:]:
        if excess(shift) >= 0.0:
            return [float(brentq(excess, before, shift, xtol=1e-11, rtol=1e-14))]
        before = shift
    return []


def sought(name: str, request: Json) -> Case:
    """Return a case with the tolerances that the search finds."""
    sensor, nominal = request["sensor"], request["nominal"]
    sight: Vector = tuple(nominal[axis] - sensor[axis] for axis in ("x_mm", "y_mm", "z_mm"))
    aim = radians(sensor.get("yaw_deg", 0.0))
    axes: dict[str, Vector] = {
        "along_mm": (cos(aim), sin(aim), 0.0),
        "lateral_mm": (-sin(aim), cos(aim), 0.0),
        "height_mm": (0.0, 0.0, 1.0),
    }
    shifts = {field: smallest_shift(sight, axis, request) for field, axis in axes.items()}
    body = {field: None if shift is None else rounded(shift, 6) for field, shift in shifts.items()}
    return Case(name, SOUGHT, request, answered(**body), TOLERANCE)


def request_of(
    sensor: Vector, nominal: Vector, yaw: float, elevation: float | None = None, **at: float
) -> Json:
    x, y, z = sensor
    request: Json = {
        "sensor": {"x_mm": x, "y_mm": y, "z_mm": z, **at},
        "nominal": dict(zip(("x_mm", "y_mm", "z_mm"), nominal, strict=True)),
        "allowed_yaw_deg": yaw,
    }
    return request if elevation is None else request | {"allowed_elevation_deg": elevation}


def straight_ahead(angle_deg: float, range_m: float) -> Case:
    """Return a case of the published table: a point straight ahead, at the sensor's height."""
    nominal = (3600.0 + range_m * 1000.0, 0.0, 450.0)
    off_mm = rounded(range_m * 1000.0 * tan(radians(angle_deg)), 6)
    return Case(
        f"{angle_deg:g} degrees at {range_m:g} m straight ahead",
        TANGENT,
        request_of((3600.0, 0.0, 450.0), nominal, angle_deg, angle_deg),
        answered(along_mm=None, lateral_mm=off_mm, height_mm=off_mm),
        TOLERANCE,
    )


CAMERA, RADAR = (2250.0, -15.0, 1310.0), (-905.0, 710.0, 640.0)
SOUGHT_CASES: dict[str, Json] = {
    "a board ahead, a little lower than the camera": request_of(CAMERA, (5150.0, -15.0, 1200.0), 0.1, 0.1),
    "a board ahead, yaw alone matters": request_of(CAMERA, (5150.0, -15.0, 1200.0), 0.2),
    "a board ahead and to the left": request_of(CAMERA, (4650.0, 1485.0, 1250.0), 0.25, 0.3),
    "a point at a bearing of 45 degrees": request_of((3600.0, 0.0, 450.0), (5600.0, 2000.0, 450.0), 1.0),
    "a mat below a side camera": request_of(
        (1960.0, 935.0, 1015.0), (1960.0, 2435.0, 0.0), 0.5, 0.4, yaw_deg=90.0
    ),
    "a mat below a side camera, off its axis": request_of(
        (1960.0, 935.0, 1015.0), (2460.0, 2435.0, 0.0), 0.5, 0.4, yaw_deg=90.0
    ),
    "a reflector on the axis of a rear-corner radar": request_of(
        RADAR,
        (RADAR[0] + 2750 * cos(radians(152)), RADAR[1] + 2750 * sin(radians(152)), 640.0),
        0.3,
        0.5,
        yaw_deg=152.0,
    ),
    "a reflector beside the axis of a rear-corner radar": request_of(
        RADAR, (-3300.0, 1500.0, 700.0), 0.3, 0.5, yaw_deg=152.0
    ),
    "a target behind a rear camera": request_of(
        (-940.0, 25.0, 905.0), (-2640.0, 25.0, 30.0), 0.4, 0.4, yaw_deg=180.0
    ),
    "a coarse allowance close by": request_of(
        (0.0, 0.0, 600.0), (700.0, 90.0, 900.0), 5.0, 4.0, yaw_deg=10.0
    ),
}
BAD = "INVALID_VALUE"
REFUSED: dict[str, tuple[Json, Json]] = {
    "straight above the sensor there is no bearing": (
        request_of(CAMERA, (CAMERA[0], CAMERA[1], 2000.0), 0.1),
        refused(BAD, ""),
    ),
    "no allowance at all": (request_of(CAMERA, (5150.0, 0.0, 1200.0), 0.0), refused(BAD, "/allowed_yaw_deg")),
    "an allowance of a quarter turn": (
        request_of(CAMERA, (5150.0, 0.0, 1200.0), 90.0),
        refused(BAD, "/allowed_yaw_deg"),
    ),
    "an elevation allowance of a quarter turn": (
        request_of(CAMERA, (5150.0, 0.0, 1200.0), 0.1, 90.0),
        refused(BAD, "/allowed_elevation_deg"),
    ),
}


def file() -> Json:
    """Return the file of vectors."""
    table = [(0.1, 100), (0.5, 100), (1.0, 100), (2.0, 100), (1.0, 50), (1.0, 150)]
    cases = [straight_ahead(angle_deg, range_m) for angle_deg, range_m in table]
    cases += [sought(name, request) for name, request in SOUGHT_CASES.items()]
    cases += [Case(name, "The API's contract.", sent, expect) for name, (sent, expect) in REFUSED.items()]
    return file_of(
        "POST /v1/geometry/aim-tolerance",
        "How far a fixture may stand off along each axis by itself before a sensor's aim error is used up.",
        f"{TANGENT} {SOUGHT}",
        cases,
    )
