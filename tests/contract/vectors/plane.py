"""Placements solved without a formula of the service: lines through two points, in homogeneous coordinates.

Everything is analytic, so that a Jacobian follows by complex steps (Squire & Trapp, SIAM Review 40, 1998):
the slope is Im f(x + ih) / h, exact to rounding.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

Vector = npt.NDArray[np.complex128]
Inputs = Mapping[str, complex]
Json = dict[str, Any]
_STEP = 1e-30


def inputs_of(request: Json) -> dict[str, complex]:
    """Return every number of a request by its name in ``standard_uncertainty``."""
    vehicle, placement = request["vehicle"], request["placement"]
    found = {f"vehicle.{name}": value for name, value in vehicle.items() if name != "sensors"}
    found.setdefault("vehicle.thrust_yaw_deg", 0.0)
    for name, sensor in vehicle.get("sensors", {}).items():
        whole = {"yaw_deg": 0.0, "pitch_deg": 0.0, **sensor}
        found |= {f"vehicle.sensors.{name}.{axis}": value for axis, value in whole.items()}
    found |= {
        f"placement.{axis}.distance_mm": placement[axis]["distance_mm"]
        for axis in ("along", "lateral", "height")
    }
    found |= {
        f"placement.{angle}": placement.get(angle, 0.0) for angle in ("yaw_deg", "pitch_deg", "roll_deg")
    }
    found |= {f"bay_pose.{name}": value for name, value in request.get("bay_pose", {}).items()}
    return found


def _point(x: complex, y: complex) -> Vector:
    return np.array([x, y, 1.0], dtype=complex)


def _direction(angle_deg: complex) -> tuple[Vector, Vector]:
    """Return a direction and the one to its left, as points at infinity."""
    angle = np.radians(angle_deg.real) + 1j * np.radians(angle_deg.imag)
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c, s, 0.0]), np.array([-s, c, 0.0])


def _cut(one: tuple[Vector, Vector], other: tuple[Vector, Vector]) -> Vector:
    """Return where two lines, each through two points, meet."""
    meeting = np.cross(np.cross(*one), np.cross(*other))
    return np.asarray(meeting / meeting[2])


def _named_point(inputs: Inputs, datum: str) -> Vector:
    if datum.startswith("sensor:"):
        key = f"vehicle.sensors.{datum.removeprefix('sensor:')}"
        return _point(inputs[f"{key}.x_mm"], inputs[f"{key}.y_mm"])
    end, side = datum.removeprefix("wheel:").split("_")
    x = inputs["vehicle.wheelbase_mm"] if end == "front" else 0.0
    return _point(x, {"left": 0.5, "right": -0.5}[side] * inputs[f"vehicle.{end}_track_mm"])


def _cross_line_x(inputs: Inputs, datum: str) -> complex:
    wheelbase = inputs["vehicle.wheelbase_mm"]
    return {
        "front_bumper": wheelbase + inputs["vehicle.front_overhang_mm"],
        "front_axle": wheelbase,
        "rear_axle": 0.0,
        "rear_bumper": -inputs["vehicle.rear_overhang_mm"],
    }[datum]


def aim_deg(inputs: Inputs, aim_line: str) -> complex:
    """Return the direction of an aim line."""
    if aim_line.startswith("sensor:"):
        return inputs[f"vehicle.sensors.{aim_line.removeprefix('sensor:')}.yaw_deg"]
    return inputs["vehicle.thrust_yaw_deg"] if aim_line == "thrust_line" else 0.0


def solve(inputs: Inputs, placement: Json, *, in_bay: bool) -> Vector:
    """Return x, y, z [mm] and yaw [degrees], in the bay frame or in the vehicle frame."""
    aim_line, along, lateral = (
        placement["aim_line"],
        placement["along"]["datum"],
        placement["lateral"]["datum"],
    )
    yaw = complex(aim_deg(inputs, aim_line))
    forward, left = _direction(yaw)
    through = _named_point(inputs, aim_line) if aim_line.startswith("sensor:") else _point(0.0, 0.0)
    if ":" in along:
        start = _named_point(inputs, along)
    else:
        x = _cross_line_x(inputs, along)
        start = _cut((through, forward), (_point(x, -1.0), _point(x, 1.0)))
    reached = start + inputs["placement.along.distance_mm"] * forward
    aside = inputs["placement.lateral.distance_mm"]
    if lateral == "centreline":
        y = aside if forward[0].real > 0 else -aside
        beside = (_point(0.0, y), _point(1.0, y))
    else:
        base = through if lateral == "aim_line" else _named_point(inputs, lateral)
        beside = (base + aside * left, forward)
    x, y, _ = _cut((reached, left), beside)
    height = placement["height"]["datum"]
    z = inputs["placement.height.distance_mm"]
    if height != "floor":
        z += inputs[f"vehicle.sensors.{height.removeprefix('sensor:')}.z_mm"]
    yaw += inputs["placement.yaw_deg"]
    if in_bay:
        heading = complex(inputs["bay_pose.heading_deg"])
        (c, s, _), _ = _direction(heading)
        x, y = inputs["bay_pose.x_mm"] + c * x - s * y, inputs["bay_pose.y_mm"] + s * x + c * y
        yaw += heading
    return np.array([x, y, z, yaw])


def jacobian(inputs: Inputs, placement: Json, names: list[str], *, in_bay: bool) -> npt.NDArray[np.float64]:
    """Return d(x, y, z, yaw) / d(input), a column for each name."""
    columns = [
        solve({**inputs, name: inputs.get(name, 0.0) + 1j * _STEP}, placement, in_bay=in_bay).imag / _STEP
        for name in names
    ]
    return np.array(columns).T


def attitude(inputs: Inputs, placement: Json, *, in_bay: bool) -> tuple[float, float, float]:
    """Return yaw, pitch and roll [degrees] of the fixture, which is turned in the aim line's frame."""
    angles = [inputs[f"placement.{angle}"].real for angle in ("yaw_deg", "pitch_deg", "roll_deg")]
    turned = Rotation.from_euler("Z", complex(aim_deg(inputs, placement["aim_line"])).real, degrees=True)
    turned *= Rotation.from_euler("ZYX", angles, degrees=True)
    if in_bay:
        turned = Rotation.from_euler("Z", inputs["bay_pose.heading_deg"].real, degrees=True) * turned
    yaw, pitch, roll = turned.as_euler("ZYX", degrees=True)
    return float(yaw), float(pitch), float(roll)
