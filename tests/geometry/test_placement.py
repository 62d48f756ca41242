"""What a placement sentence means, in statements that a person with a tape can check."""

from dataclasses import replace
from math import cos, hypot, radians, sin, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline_service.geometry import BayPose, Offset, Placement, Pose, VehicleGeometry, place, wheel_centres

FLOOR = Offset("floor", 1200.0)
BOARD_AHEAD = Placement(
    "centreline", Offset("front_bumper", 1500.0), Offset("centreline", 0.0), FLOOR, yaw_deg=180.0
)


def sentence(aim_line: str, along: Offset, lateral: Offset, height: Offset = FLOOR) -> Placement:
    return Placement(aim_line, along, lateral, height)


def test_a_board_ahead_of_the_bumper_on_the_centreline_faces_the_car(car: VehicleGeometry) -> None:
    placed = place(car, BOARD_AHEAD)
    assert placed.in_vehicle == Pose(2810.0 + 870.0 + 1500.0, 0.0, 1200.0, 180.0, 0.0, 0.0)
    assert placed.in_bay is None


def test_behind_a_datum_the_distance_is_negative_when_the_aim_line_points_forward(
    car: VehicleGeometry,
) -> None:
    behind = sentence("centreline", Offset("rear_bumper", -2000.0), Offset("centreline", 0.0))
    assert place(car, behind).in_vehicle.x_mm == -960.0 - 2000.0


def test_a_rearward_sensor_line_counts_along_rearward_and_lateral_to_the_right_of_the_car(
    car: VehicleGeometry,
) -> None:
    along = Offset("rear_bumper", 2000.0)
    for datum in ("aim_line", "centreline", "sensor:rear"):
        pose = place(car, sentence("sensor:rear", along, Offset(datum, 300.0))).in_vehicle
        assert (pose.x_mm, pose.y_mm) == pytest.approx((-2960.0, -300.0), abs=1e-9)


def test_a_side_sensor_line_counts_along_to_the_left_and_lateral_to_the_rear(car: VehicleGeometry) -> None:
    beside = sentence("sensor:left", Offset("sensor:left", 1000.0), Offset("wheel:rear_left", 250.0))
    pose = place(car, beside).in_vehicle
    assert (pose.x_mm, pose.y_mm) == pytest.approx((-250.0, 930.0 + 1000.0), abs=1e-9)


def test_a_wheel_datum_does_not_turn_with_the_thrust_line(car: VehicleGeometry) -> None:
    at_wheel = sentence("thrust_line", Offset("wheel:front_left", 0.0), Offset("wheel:front_left", 0.0))
    pose = place(replace(car, thrust_yaw_deg=0.5), at_wheel).in_vehicle
    assert (pose.x_mm, pose.y_mm) == pytest.approx((2810.0, 780.0), abs=1e-9)
    # Turning the datum with the line would have carried it sideways by wheelbase * sin(0.5 degrees).
    assert 2810.0 * sin(radians(0.5)) == pytest.approx(24.5, abs=0.05)


def test_a_bumper_is_met_where_the_thrust_line_crosses_it(car: VehicleGeometry) -> None:
    on_bumper = sentence("thrust_line", Offset("front_bumper", 0.0), Offset("aim_line", 0.0))
    pose = place(replace(car, thrust_yaw_deg=0.5), on_bumper).in_vehicle
    assert (pose.x_mm, pose.y_mm) == pytest.approx((3680.0, 3680.0 * tan(radians(0.5))), abs=1e-9)
    # Projecting the bumper's midpoint on the line instead would fall short by 0.28 mm along it.
    along_mm = hypot(pose.x_mm, pose.y_mm)
    assert along_mm - 3680.0 * cos(radians(0.5)) == pytest.approx(0.28, abs=0.005)


def test_under_a_thrust_aim_the_centreline_still_holds_the_lateral_distance(car: VehicleGeometry) -> None:
    oblique = sentence("thrust_line", Offset("front_axle", 1000.0), Offset("centreline", 0.0))
    pose = place(replace(car, thrust_yaw_deg=2.0), oblique).in_vehicle
    assert pose.y_mm == 0.0
    # Along is counted on the thrust line, from where it crosses the axle: x = (wheelbase / cos + d) / cos.
    assert pose.x_mm == pytest.approx((2810.0 / cos(radians(2.0)) + 1000.0) / cos(radians(2.0)), abs=1e-9)


def test_a_thrust_line_to_the_left_carries_the_board_to_the_left_and_turns_it(car: VehicleGeometry) -> None:
    aimed = replace(BOARD_AHEAD, aim_line="thrust_line", lateral=Offset("aim_line", 0.0))
    pose = place(replace(car, thrust_yaw_deg=0.5), aimed).in_vehicle
    assert pose.y_mm == pytest.approx(pose.x_mm * tan(radians(0.5)), abs=1e-9)
    assert pose.yaw_deg == -179.5  # 180.5


@pytest.mark.parametrize(
    ("aim_line", "along", "yaw_deg", "expected_yaw_deg"),
    [
        pytest.param("centreline", Offset("front_axle", 3000.0), 180.0, 180.0, id="ahead"),
        pytest.param("centreline", Offset("rear_axle", -3000.0), 0.0, 0.0, id="behind"),
        pytest.param(
            "sensor:rear", Offset("rear_axle", 3000.0), 180.0, 0.0, id="behind-seen-from-the-sensor"
        ),
        pytest.param(
            "sensor:left", Offset("sensor:left", 3000.0), 180.0, -90.0, id="left-seen-from-the-sensor"
        ),
    ],
)
def test_the_yaw_of_the_aim_line_adds_to_the_yaw_of_the_placement(
    car: VehicleGeometry, aim_line: str, along: Offset, yaw_deg: float, expected_yaw_deg: float
) -> None:
    placement = Placement(aim_line, along, Offset("aim_line", 0.0), FLOOR, yaw_deg, 7.0, -3.0)
    pose = place(car, placement).in_vehicle
    assert (pose.yaw_deg, pose.pitch_deg, pose.roll_deg) == (expected_yaw_deg, 7.0, -3.0)


def test_height_counts_from_the_floor_or_from_a_sensor(car: VehicleGeometry) -> None:
    assert place(car, BOARD_AHEAD).in_vehicle.z_mm == 1200.0
    below = replace(BOARD_AHEAD, height=Offset("sensor:left", -20.0))
    assert place(car, below).in_vehicle.z_mm == 1000.0


def test_a_car_that_heads_along_the_bay_y_axis_has_its_board_there(car: VehicleGeometry) -> None:
    pose = place(car, BOARD_AHEAD, bay_pose=BayPose(3000.0, 1000.0, 90.0)).in_bay
    assert pose is not None
    assert (pose.x_mm, pose.y_mm, pose.z_mm) == pytest.approx((3000.0, 1000.0 + 5180.0, 1200.0), abs=1e-9)
    assert pose.yaw_deg == -90.0


def test_a_dimension_that_the_sentence_does_not_use_may_be_unknown(car: VehicleGeometry) -> None:
    bare = VehicleGeometry(wheelbase_mm=2810.0)
    from_wheel = sentence("centreline", Offset("wheel:front_left", 1000.0), Offset("centreline", 0.0))
    assert place(bare, from_wheel).in_vehicle == place(car, from_wheel).in_vehicle
    only_track = VehicleGeometry(front_track_mm=1560.0)
    beside_wheel = sentence("centreline", Offset("rear_axle", 1000.0), Offset("wheel:front_left", 500.0))
    assert place(only_track, beside_wheel).in_vehicle == place(car, beside_wheel).in_vehicle


@given(
    x=st.floats(-1e4, 1e4), y=st.floats(-1e4, 1e4), heading=st.floats(-360.0, 360.0), yaw=st.floats(-2.0, 2.0)
)
def test_moving_the_car_about_the_bay_changes_nothing_between_things(
    x: float, y: float, heading: float, yaw: float
) -> None:
    car = VehicleGeometry(2810.0, 1560.0, 1580.0, 870.0, 960.0, 1840.0, thrust_yaw_deg=yaw)
    first = replace(BOARD_AHEAD, aim_line="thrust_line")
    second = sentence("centreline", Offset("wheel:rear_right", -1500.0), Offset("wheel:rear_right", -800.0))
    bay_pose, u = BayPose(x, y, heading), {"vehicle.wheelbase_mm": 2.0, "placement.lateral.distance_mm": 1.0}
    here = [place(car, p, standard_uncertainty=u) for p in (first, second)]
    there = [place(car, p, bay_pose=bay_pose, standard_uncertainty=u) for p in (first, second)]

    poses = [placed.in_bay for placed in there]
    assert poses[0] is not None
    assert poses[1] is not None
    a, b = here[0].in_vehicle, here[1].in_vehicle
    expected_mm = hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
    assert hypot(poses[0].x_mm - poses[1].x_mm, poses[0].y_mm - poses[1].y_mm) == pytest.approx(expected_mm)
    turn_deg = poses[0].yaw_deg - poses[1].yaw_deg - a.yaw_deg + b.yaw_deg
    assert cos(radians(turn_deg)) == pytest.approx(1.0)
    for still, moved in zip(here, there, strict=True):
        assert still.covariance_xy_mm2 is not None
        assert moved.covariance_xy_mm2 is not None
        (xx, _), (_, yy) = still.covariance_xy_mm2
        (moved_xx, _), (_, moved_yy) = moved.covariance_xy_mm2
        assert moved_xx + moved_yy == pytest.approx(xx + yy)
        assert moved.in_vehicle == still.in_vehicle


def test_wheel_centres_stand_at_half_track_on_their_axles(car: VehicleGeometry) -> None:
    assert wheel_centres(car) == {
        "wheel:front_left": (2810.0, 780.0),
        "wheel:front_right": (2810.0, -780.0),
        "wheel:rear_left": (0.0, 790.0),
        "wheel:rear_right": (0.0, -790.0),
    }
