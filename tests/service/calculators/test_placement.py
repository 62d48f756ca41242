"""POST /v1/geometry/placement, field by field as other programs rely on it."""

from collections.abc import Callable
from math import cos, radians, sin
from typing import Any

import httpx
import numpy as np
import pytest
from numpy.typing import NDArray

Calculate = Callable[[str, dict[str, Any]], dict[str, Any]]
POSE = {"x_mm", "y_mm", "z_mm", "yaw_deg", "pitch_deg", "roll_deg"}
DIMENSIONS = {
    "wheelbase_mm": 2890,
    "front_track_mm": 1620,
    "rear_track_mm": 1630,
    "front_overhang_mm": 935,
    "rear_overhang_mm": 1010,
    "width_mm": 1900,
}
VEHICLE = DIMENSIONS | {
    "thrust_yaw_deg": 0.1,
    "sensors": {
        "front_radar": {"x_mm": 3700, "y_mm": 20, "z_mm": 600, "yaw_deg": 0, "pitch_deg": 0},
        "left.side": {"x_mm": -800, "y_mm": 740, "z_mm": 650, "yaw_deg": 150, "pitch_deg": -2},
    },
}
PLACEMENT = {
    "aim_line": "thrust_line",
    "along": {"datum": "front_bumper", "distance_mm": 2200},
    "lateral": {"datum": "aim_line", "distance_mm": 0},
    "height": {"datum": "floor", "distance_mm": 600},
    "yaw_deg": 180,
    "pitch_deg": 1.5,
    "roll_deg": -0.5,
}
BAY = {"x_mm": 5000, "y_mm": 3000, "heading_deg": 90}
UNSURE = {
    "vehicle.wheelbase_mm": 2.0,
    "vehicle.thrust_yaw_deg": 0.05,
    "placement.along.distance_mm": 1.5,
    "bay_pose.x_mm": 4.0,
}
SENSOR_AIM: dict[str, Any] = PLACEMENT | {
    "aim_line": "sensor:left.side",
    "along": {"datum": "sensor:left.side", "distance_mm": 2500},
    "lateral": {"datum": "wheel:rear_left", "distance_mm": -300},
}
FULL: dict[str, Any] = {
    "vehicle": VEHICLE,
    "placement": PLACEMENT,
    "bay_pose": BAY,
    "standard_uncertainty": UNSURE,
}


def test_the_answer_has_the_fields_of_the_contract(calculate: Calculate) -> None:
    answer = calculate("placement", FULL)
    assert {"in_vehicle", "in_bay", "covariance_xy_mm2", "contributions"} <= set(answer)
    assert set(answer["in_vehicle"]) == set(answer["in_bay"]) == POSE
    (xx, xy), (yx, yy) = answer["covariance_xy_mm2"]
    assert (xx > 0, yy > 0, xy == yx) == (True, True, True)
    assert all(set(part) == {"input", "share"} for part in answer["contributions"])
    assert {part["input"] for part in answer["contributions"]} == set(UNSURE)
    assert sum(part["share"] for part in answer["contributions"]) == pytest.approx(1.0)
    shares = [part["share"] for part in answer["contributions"]]
    assert shares == sorted(shares, reverse=True)


@pytest.mark.parametrize("left_out", [{}, {"bay_pose": None, "standard_uncertainty": None}])
def test_optional_parts_may_be_left_out_or_null(calculate: Calculate, left_out: dict[str, Any]) -> None:
    answer = calculate("placement", {"vehicle": VEHICLE, "placement": PLACEMENT, **left_out})
    assert (answer["in_bay"], answer["covariance_xy_mm2"], answer["contributions"]) == (None, None, None)
    assert answer["in_vehicle"]["x_mm"] == pytest.approx(6024.997, abs=5e-4)


def test_what_has_a_default_may_be_left_out(calculate: Calculate) -> None:
    plain = {name: PLACEMENT[name] for name in ("along", "height")}
    plain |= {"aim_line": "centreline", "lateral": {"datum": "centreline", "distance_mm": 0}}
    pose = calculate("placement", {"vehicle": DIMENSIONS, "placement": plain})["in_vehicle"]
    assert pose == {
        "x_mm": 6025.0,
        "y_mm": 0.0,
        "z_mm": 600.0,
        "yaw_deg": 0.0,
        "pitch_deg": 0.0,
        "roll_deg": 0.0,
    }


def test_without_influence_nothing_contributes(calculate: Calculate) -> None:
    answer = calculate("placement", FULL | {"standard_uncertainty": {"vehicle.rear_track_mm": 3.0}})
    assert answer["covariance_xy_mm2"] == [[0.0, 0.0], [0.0, 0.0]]
    assert answer["contributions"] is None


def test_the_worked_thrust_line_in_the_vehicle_and_in_the_bay(calculate: Calculate) -> None:
    # By hand: the line crosses the bumper 3,825 mm ahead at y = 3825 tan 0.1 = 6.676; 2,200 mm on along it
    # is x = 3825 + 2200 cos 0.1 = 6,024.997 and y = 6.676 + 2200 sin 0.1 = 10.516.
    answer = calculate("placement", FULL)
    pose, bay = answer["in_vehicle"], answer["in_bay"]
    assert (pose["x_mm"], pose["y_mm"]) == pytest.approx((6024.997, 10.516), abs=1e-3)
    assert (pose["z_mm"], pose["yaw_deg"]) == pytest.approx((600.0, -179.9))
    assert (pose["pitch_deg"], pose["roll_deg"]) == (1.5, -0.5)
    # A heading of 90 degrees lays the car's x along the bay's y, and its y along the bay's -x.
    assert (bay["x_mm"], bay["y_mm"]) == pytest.approx((5000 - pose["y_mm"], 3000 + pose["x_mm"]))
    assert bay["yaw_deg"] == pytest.approx(-89.9)


def test_angles_are_equal_modulo_a_turn(calculate: Calculate) -> None:
    turned = FULL | {
        "bay_pose": BAY | {"heading_deg": -270},
        "placement": PLACEMENT | {"yaw_deg": -180, "roll_deg": 359.5},
    }
    one, other = calculate("placement", FULL), calculate("placement", turned)
    for frame in ("in_vehicle", "in_bay"):
        assert one[frame] == pytest.approx(other[frame])


@pytest.mark.parametrize("placement", [PLACEMENT, SENSOR_AIM], ids=["thrust_line", "side_sensor"])
def test_the_covariance_agrees_with_a_monte_carlo_of_its_own_equations(
    calculate: Calculate, placement: dict[str, Any]
) -> None:
    """200,000 draws (JCGM 101), each solved afresh; 2 % of the trace is four of its standard deviations."""
    unsure = UNSURE | {
        "vehicle.front_overhang_mm": 3.0,
        "vehicle.rear_track_mm": 4.0,
        "vehicle.sensors.left.side.x_mm": 3.0,
        "vehicle.sensors.left.side.y_mm": 2.0,
        "vehicle.sensors.left.side.yaw_deg": 0.2,
        "placement.lateral.distance_mm": 1.0,
        "bay_pose.y_mm": 2.0,
        "bay_pose.heading_deg": 0.03,
    }
    body = FULL | {"placement": placement, "standard_uncertainty": unsure}
    answer = calculate("placement", body)
    dice, count = np.random.default_rng(20_240_607), 200_000
    drawn = {name: dice.normal(0.0, u, count) for name, u in unsure.items()}
    points = solved(placement, drawn, count)
    spread = np.cov(points)
    found = np.array(answer["covariance_xy_mm2"])
    assert np.abs(found - spread).max() < 0.02 * np.trace(spread)
    # One input alone brings its share of the trace.
    for part in answer["contributions"][:3]:
        alone = np.cov(solved(placement, {part["input"]: drawn[part["input"]]}, count))
        assert np.trace(alone) / np.trace(spread) == pytest.approx(part["share"], abs=0.02)


def solved(
    placement: dict[str, Any], drawn: dict[str, NDArray[np.float64]], count: int
) -> NDArray[np.float64]:
    """Solve u.p = u.D + d and n.p = n.Q + l for every draw, and take the point into the bay."""

    def value(name: str, nominal: float) -> NDArray[np.float64]:
        return nominal + drawn.get(name, np.zeros(count))

    distance, side = placement["along"]["distance_mm"], placement["lateral"]["distance_mm"]
    d, offset = value("placement.along.distance_mm", distance), value("placement.lateral.distance_mm", side)
    if placement["aim_line"] == "thrust_line":
        a = np.radians(value("vehicle.thrust_yaw_deg", 0.1))
        bumper = value("vehicle.wheelbase_mm", 2890) + value("vehicle.front_overhang_mm", 935)
        along, lateral = np.array([bumper, bumper * np.tan(a)]), np.zeros((2, count))
    else:
        sensor = "vehicle.sensors.left.side"
        a = np.radians(value(f"{sensor}.yaw_deg", 150))
        along = np.array([value(f"{sensor}.x_mm", -800), value(f"{sensor}.y_mm", 740)])
        lateral = np.array([np.zeros(count), value("vehicle.rear_track_mm", 1630) / 2])
    u, n = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    rows = np.stack([u.T, n.T], axis=1)
    right = np.stack([(u * along).sum(0) + d, (n * lateral).sum(0) + offset], axis=1)
    x, y = np.linalg.solve(rows, right[..., None])[..., 0].T
    h = np.radians(value("bay_pose.heading_deg", 90))
    return np.array(
        [
            value("bay_pose.x_mm", 5000) + np.cos(h) * x - np.sin(h) * y,
            value("bay_pose.y_mm", 3000) + np.sin(h) * x + np.cos(h) * y,
        ]
    )


def test_the_nominal_draw_is_the_answer_itself(calculate: Calculate) -> None:
    for placement in (PLACEMENT, SENSOR_AIM):
        bay = calculate("placement", FULL | {"placement": placement})["in_bay"]
        (x,), (y,) = solved(placement, {}, 1)
        assert (bay["x_mm"], bay["y_mm"]) == pytest.approx((x, y), abs=1e-6)


def test_a_side_looking_sensor_by_hand(calculate: Calculate) -> None:
    side = {"x_mm": 2000, "y_mm": 900, "z_mm": 1000, "yaw_deg": 90, "pitch_deg": 0}
    body = {
        "vehicle": DIMENSIONS | {"sensors": {"left": side}},
        "placement": {
            "aim_line": "sensor:left",
            "along": {"datum": "sensor:left", "distance_mm": 1800},
            "lateral": {"datum": "aim_line", "distance_mm": 250},
            "height": {"datum": "sensor:left", "distance_mm": -40},
            "yaw_deg": 180,
        },
    }
    pose = calculate("placement", body)["in_vehicle"]
    # Looking to the left, the left of the line of sight is towards the rear of the car.
    assert (pose["x_mm"], pose["y_mm"], pose["z_mm"]) == pytest.approx((2000 - 250, 900 + 1800, 960))
    assert pose["yaw_deg"] == pytest.approx(-90.0)


def test_a_rearward_sensor_counts_lateral_to_the_cars_right(calculate: Calculate) -> None:
    rear = {"x_mm": -900, "y_mm": 0, "z_mm": 900, "yaw_deg": 180, "pitch_deg": 0}
    for datum in ("aim_line", "centreline"):
        body = {
            "vehicle": DIMENSIONS | {"sensors": {"rear": rear}},
            "placement": {
                "aim_line": "sensor:rear",
                "along": {"datum": "rear_bumper", "distance_mm": 2000},
                "lateral": {"datum": datum, "distance_mm": 300},
                "height": {"datum": "floor", "distance_mm": 0},
            },
        }
        pose = calculate("placement", body)["in_vehicle"]
        assert (pose["x_mm"], pose["y_mm"]) == pytest.approx((-1010 - 2000, -300))


def test_it_needs_no_catalogue_and_is_safe_to_repeat(http: httpx.Client) -> None:
    one, other = (http.post("/v1/geometry/placement", json=FULL) for _ in range(2))
    assert one.content == other.content
    assert "catalogue-revision" not in one.headers
    assert {caution["code"] for caution in one.json()["cautions"]} == {"MAKER_GOVERNS", "FUNCTIONS_MAY_FAIL"}


def test_the_direction_of_the_covariance_follows_the_car_into_the_bay(calculate: Calculate) -> None:
    straight = FULL | {
        "placement": PLACEMENT | {"aim_line": "centreline"},
        "standard_uncertainty": {"placement.along.distance_mm": 3.0},
    }
    for heading in (0.0, 30.0, 90.0):
        answer = calculate("placement", straight | {"bay_pose": BAY | {"heading_deg": heading}})
        c, s = cos(radians(heading)), sin(radians(heading))
        expected = [[9 * c * c, 9 * c * s], [9 * c * s, 9 * s * s]]
        assert np.array(answer["covariance_xy_mm2"]) == pytest.approx(np.array(expected), abs=1e-9)
