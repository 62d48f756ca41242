"""Placements solved a second way: lines through two points in homogeneous coordinates, cut with each other.

The second solution shares no formula with the service: it draws each line with complex numbers and takes
cross products. It is vectorised, so the same one propagates random samples.
"""

from collections.abc import Mapping
from math import cos, radians

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline_service.errors import DatumsDoNotFixAPoint
from snapline_service.geometry import BayPose, Offset, Placement, Sensor, VehicleGeometry, place

Values = Mapping[str, float]
Numbers = npt.NDArray[np.float64] | float
Samples = Mapping[str, Numbers]
Words = tuple[str, str, str]  # aim line, along datum, lateral datum
Complex = npt.NDArray[np.complex128]

SENSORS = ("front.radar", "left")
SENSOR_FIELDS = ("x_mm", "y_mm", "z_mm", "yaw_deg", "pitch_deg")
VEHICLE_FIELDS = {
    "wheelbase_mm": (1800.0, 4500.0),
    "front_track_mm": (1100.0, 2200.0),
    "rear_track_mm": (1100.0, 2200.0),
    "front_overhang_mm": (300.0, 1800.0),
    "rear_overhang_mm": (300.0, 1800.0),
    "width_mm": (1400.0, 2600.0),
    "thrust_yaw_deg": (-2.0, 2.0),
}
LINES = ("front_bumper", "rear_bumper", "front_axle", "rear_axle")
WHEELS = ("wheel:front_left", "wheel:front_right", "wheel:rear_left", "wheel:rear_right")
POINTS = (*WHEELS, *(f"sensor:{name}" for name in SENSORS))
AIMS = ("centreline", "thrust_line", "sensor:front.radar", "sensor:left")

ranges = (
    {f"vehicle.{field}": limits for field, limits in VEHICLE_FIELDS.items()}
    | {f"vehicle.sensors.{name}.x_mm": (-2000.0, 5000.0) for name in SENSORS}
    | {f"vehicle.sensors.{name}.y_mm": (-1200.0, 1200.0) for name in SENSORS}
    | {f"vehicle.sensors.{name}.z_mm": (200.0, 2000.0) for name in SENSORS}
    | {f"vehicle.sensors.{name}.yaw_deg": (-360.0, 360.0) for name in SENSORS}
    | {f"vehicle.sensors.{name}.pitch_deg": (-20.0, 20.0) for name in SENSORS}
    | {f"placement.{axis}.distance_mm": (-10_000.0, 10_000.0) for axis in ("along", "lateral", "height")}
    | {f"placement.{angle}": (-360.0, 360.0) for angle in ("yaw_deg", "pitch_deg", "roll_deg")}
    | {"bay_pose.x_mm": (-20_000.0, 20_000.0), "bay_pose.y_mm": (-20_000.0, 20_000.0)}
    | {"bay_pose.heading_deg": (-360.0, 360.0)}
)
random_values = st.fixed_dictionaries({key: st.floats(*limits) for key, limits in ranges.items()})
random_words = st.tuples(
    st.sampled_from(AIMS),
    st.sampled_from(LINES + POINTS),
    st.sampled_from(("aim_line", "centreline", *POINTS)),
)


def request(values: Values, words: Words) -> tuple[VehicleGeometry, Placement, BayPose]:
    """Write values and words as the service takes them."""
    sensors = {
        name: Sensor(**{field: values[f"vehicle.sensors.{name}.{field}"] for field in SENSOR_FIELDS})
        for name in SENSORS
    }
    vehicle = VehicleGeometry(
        **{field: values[f"vehicle.{field}"] for field in VEHICLE_FIELDS},
        sensors=sensors,
    )
    placement = Placement(
        words[0],
        Offset(words[1], values["placement.along.distance_mm"]),
        Offset(words[2], values["placement.lateral.distance_mm"]),
        Offset("sensor:left", values["placement.height.distance_mm"]),
        values["placement.yaw_deg"],
        values["placement.pitch_deg"],
        values["placement.roll_deg"],
    )
    bay_pose = BayPose(values["bay_pose.x_mm"], values["bay_pose.y_mm"], values["bay_pose.heading_deg"])
    return vehicle, placement, bay_pose


def homogeneous(point: Complex) -> npt.NDArray[np.float64]:
    return np.stack([point.real, point.imag, np.ones(point.shape)], axis=-1)


def cut(one: tuple[Complex, Complex], other: tuple[Complex, Complex]) -> Complex:
    """Return where two lines, each through two points, meet."""
    first, second = (np.cross(homogeneous(p), homogeneous(q)) for p, q in (one, other))
    meeting = np.cross(first, second)
    return np.asarray((meeting[..., 0] + 1j * meeting[..., 1]) / meeting[..., 2])


def point_of(values: Samples, name: str) -> Complex:
    if name.startswith("sensor:"):
        key = f"vehicle.sensors.{name.removeprefix('sensor:')}"
        return np.asarray(values[f"{key}.x_mm"] + 1j * values[f"{key}.y_mm"])
    end, side = name.removeprefix("wheel:").split("_")
    x = values["vehicle.wheelbase_mm"] if end == "front" else 0.0
    return np.asarray(x + {"left": 0.5j, "right": -0.5j}[side] * values[f"vehicle.{end}_track_mm"])


def line_x_of(values: Samples, name: str) -> Complex:
    wheelbase, front = values["vehicle.wheelbase_mm"], values["vehicle.front_overhang_mm"]
    rear = values["vehicle.rear_overhang_mm"]
    x = {"front_bumper": wheelbase + front, "front_axle": wheelbase, "rear_axle": 0.0, "rear_bumper": -rear}
    return np.asarray(x[name], dtype=complex)


def aim_yaw_deg(values: Samples, name: str) -> Numbers:
    if name.startswith("sensor:"):
        return values[f"vehicle.sensors.{name.removeprefix('sensor:')}.yaw_deg"]
    return values["vehicle.thrust_yaw_deg"] if name == "thrust_line" else 0.0


def aim_of(values: Samples, name: str) -> tuple[Complex, Complex]:
    """Return a point of the aim line and its unit direction."""
    through = point_of(values, name) if name.startswith("sensor:") else np.asarray(0.0, dtype=complex)
    return through, np.asarray(np.exp(1j * np.radians(aim_yaw_deg(values, name))))


def second_solution(values: Samples, words: Words) -> tuple[Complex, Complex]:
    """Return the reference point in the vehicle and in the bay frame."""
    aim_name, along_name, lateral_name = words
    through, direction = aim_of(values, aim_name)
    left = 1j * direction
    if along_name in LINES:
        x = line_x_of(values, along_name)
        start = cut((through, through + 1e3 * direction), (x - 1e3j, x + 1e3j))
    else:
        start = point_of(values, along_name)
    reached = start + values["placement.along.distance_mm"] * direction

    lateral = values["placement.lateral.distance_mm"]
    if lateral_name == "centreline":
        beside, forward = 1j * lateral * np.sign(left.imag), np.asarray(1.0 + 0j)
    else:
        datum = through if lateral_name == "aim_line" else point_of(values, lateral_name)
        beside, forward = datum + lateral * left, direction
    point = cut((reached, reached + 1e3 * left), (np.asarray(beside), np.asarray(beside + 1e3 * forward)))
    corner = values["bay_pose.x_mm"] + 1j * values["bay_pose.y_mm"]
    return point, np.asarray(corner + np.exp(1j * np.radians(values["bay_pose.heading_deg"])) * point)


def fixes_a_point(values: Values, words: Words) -> bool:
    _, direction = aim_of(values, words[0])
    needs_crossing = words[1] in LINES or words[2] == "centreline"
    return not needs_crossing or abs(float(direction.real)) >= 0.05


@given(values=random_values, words=random_words)
def test_the_reference_point_agrees_within_a_micrometre(values: Values, words: Words) -> None:
    vehicle, placement, bay_pose = request(values, words)
    if not fixes_a_point(values, words):
        with pytest.raises(DatumsDoNotFixAPoint):
            place(vehicle, placement)
        return
    placed = place(vehicle, placement, bay_pose=bay_pose)
    assert placed.in_bay is not None
    in_vehicle, in_bay = second_solution(values, words)
    assert abs(complex(placed.in_vehicle.x_mm, placed.in_vehicle.y_mm) - in_vehicle) <= 0.001
    assert abs(complex(placed.in_bay.x_mm, placed.in_bay.y_mm) - in_bay) <= 0.001
    expected_z_mm = values["vehicle.sensors.left.z_mm"] + values["placement.height.distance_mm"]
    assert placed.in_vehicle.z_mm == pytest.approx(expected_z_mm)
    aim_deg = float(aim_yaw_deg(values, words[0]))
    off_deg = placed.in_bay.yaw_deg - aim_deg - values["placement.yaw_deg"] - values["bay_pose.heading_deg"]
    assert cos(radians(off_deg)) == pytest.approx(1.0)


@given(values=random_values, words=random_words, key=st.sampled_from(sorted(ranges)))
def test_every_slope_is_the_difference_quotient_of_the_second_solution(
    values: Values, words: Words, key: str
) -> None:
    step = 1e-3
    ahead, behind = ({**values, key: values[key] + sign * step} for sign in (1, -1))
    if not all(fixes_a_point(v, words) for v in (values, ahead, behind)):
        return
    vehicle, placement, bay_pose = request(values, words)
    placed = place(vehicle, placement, bay_pose=bay_pose, standard_uncertainty={key: 1.0})
    slope = complex(
        (second_solution(ahead, words)[1] - second_solution(behind, words)[1]).item() / (2 * step)
    )
    expected = np.outer([slope.real, slope.imag], [slope.real, slope.imag])
    assert placed.covariance_xy_mm2 is not None
    np.testing.assert_allclose(
        placed.covariance_xy_mm2, expected, rtol=1e-4, atol=1e-4 + 1e-5 * np.trace(expected)
    )


@given(values=random_values, words=random_words, key=st.sampled_from(sorted(ranges)))
def test_height_and_yaw_take_exactly_the_uncertainties_that_enter_them(
    values: Values, words: Words, key: str
) -> None:
    if not fixes_a_point(values, words):
        return
    vehicle, placement, bay_pose = request(values, words)
    placed = place(vehicle, placement, bay_pose=bay_pose, standard_uncertainty={key: 1.5})
    aim_key = {"thrust_line": "vehicle.thrust_yaw_deg"}.get(
        words[0], f"vehicle.sensors.{words[0].removeprefix('sensor:')}.yaw_deg"
    )
    height_keys = ("vehicle.sensors.left.z_mm", "placement.height.distance_mm")
    assert placed.u_z_mm == (1.5 if key in height_keys else 0.0)
    assert placed.u_yaw_deg == (1.5 if key in ("placement.yaw_deg", "bay_pose.heading_deg", aim_key) else 0.0)


ORDINARY_CAR: Values = {
    "vehicle.wheelbase_mm": 2810.0,
    "vehicle.front_track_mm": 1560.0,
    "vehicle.rear_track_mm": 1580.0,
    "vehicle.front_overhang_mm": 870.0,
    "vehicle.rear_overhang_mm": 960.0,
    "vehicle.width_mm": 1840.0,
    "vehicle.thrust_yaw_deg": 0.3,
    "vehicle.sensors.front.radar.x_mm": 3600.0,
    "vehicle.sensors.front.radar.y_mm": 120.0,
    "vehicle.sensors.front.radar.z_mm": 450.0,
    "vehicle.sensors.front.radar.yaw_deg": 1.0,
    "vehicle.sensors.front.radar.pitch_deg": 0.0,
    "vehicle.sensors.left.x_mm": 2100.0,
    "vehicle.sensors.left.y_mm": 930.0,
    "vehicle.sensors.left.z_mm": 1020.0,
    "vehicle.sensors.left.yaw_deg": 118.0,
    "vehicle.sensors.left.pitch_deg": 0.0,
    "placement.along.distance_mm": 3000.0,
    "placement.lateral.distance_mm": 400.0,
    "placement.height.distance_mm": 200.0,
    "placement.yaw_deg": 180.0,
    "placement.pitch_deg": 0.0,
    "placement.roll_deg": 0.0,
    "bay_pose.x_mm": 4000.0,
    "bay_pose.y_mm": 3200.0,
    "bay_pose.heading_deg": 35.0,
}
WORKSHOP_UNCERTAINTY = {
    key: 0.05 if key.endswith("_deg") else 2.0 + 0.3 * number for number, key in enumerate(ORDINARY_CAR)
}


@pytest.mark.parametrize(
    "words",
    [
        ("centreline", "front_bumper", "centreline"),
        ("thrust_line", "front_bumper", "centreline"),
        ("thrust_line", "wheel:rear_right", "aim_line"),
        ("sensor:front.radar", "front_axle", "sensor:front.radar"),
        ("sensor:left", "rear_bumper", "centreline"),
        ("sensor:left", "wheel:rear_left", "wheel:front_left"),
    ],
    ids="/".join,
)
def test_the_covariance_is_within_2_percent_of_a_monte_carlo_one(words: Words) -> None:
    vehicle, placement, bay_pose = request(ORDINARY_CAR, words)
    random = np.random.default_rng(8855)
    samples = {
        key: value + WORKSHOP_UNCERTAINTY[key] * random.standard_normal(200_000)
        for key, value in ORDINARY_CAR.items()
    }
    in_vehicle, in_bay = second_solution(samples, words)
    for bay, points in ((None, in_vehicle), (bay_pose, in_bay)):
        placed = place(vehicle, placement, bay_pose=bay, standard_uncertainty=WORKSHOP_UNCERTAINTY)
        sampled = np.cov(points.real, points.imag)
        limit = 0.02 * np.sqrt(np.outer(np.diag(sampled), np.diag(sampled)))
        assert placed.covariance_xy_mm2 is not None
        assert np.all(np.abs(np.subtract(placed.covariance_xy_mm2, sampled)) <= limit)
