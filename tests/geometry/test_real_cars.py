"""Identities that hold for every car, tried on every car of two published data sets."""

from math import hypot

import pytest

from snapline_service.geometry import (
    Offset,
    Placement,
    Pose,
    VehicleGeometry,
    extent,
    footprint,
    place,
    vehicle_outline,
    wheel_centres,
)

FLOOR = Offset("floor", 1000.0)
MM_PER_INCH = 25.4  # exact


def placed(
    car: VehicleGeometry, along: Offset, lateral: Offset, aim_line: str = "centreline", yaw_deg: float = 180.0
) -> Pose:
    return place(car, Placement(aim_line, along, lateral, FLOOR, yaw_deg)).in_vehicle


def known(dimension_mm: float | None) -> float:
    assert dimension_mm is not None
    return dimension_mm


def test_the_data_sets_are_the_published_ones(
    cars93: list[VehicleGeometry], cars_with_tracks: list[VehicleGeometry]
) -> None:
    assert len(cars93) == 93
    assert sum(known(car.wheelbase_mm) for car in cars93) / 93 / MM_PER_INCH == pytest.approx(103.946237)
    tracks = [(car.front_track_mm, car.rear_track_mm) for car in cars_with_tracks]
    assert tracks == [
        pytest.approx((1389.888, 1423.416)),
        pytest.approx((1386.84, 1363.98)),
        pytest.approx((1574.292, 1543.812)),
    ]


def test_a_board_1500_ahead_of_the_front_bumper(cars93: list[VehicleGeometry]) -> None:
    for car in cars93:
        pose = placed(car, Offset("front_bumper", 1500.0), Offset("centreline", 0.0))
        assert pose.x_mm == known(car.wheelbase_mm) + known(car.front_overhang_mm) + 1500.0
        assert pose.y_mm == 0.0


def test_from_bumper_to_bumper_is_the_length_of_the_car(cars93: list[VehicleGeometry]) -> None:
    for car in cars93:
        front = placed(car, Offset("front_bumper", 0.0), Offset("centreline", 0.0))
        rear = placed(car, Offset("rear_bumper", 0.0), Offset("centreline", 0.0))
        inches = (front.x_mm - rear.x_mm) / MM_PER_INCH
        assert inches == pytest.approx(round(inches))  # the data set has whole inches
        assert 141 <= round(inches) <= 219  # its published range


def test_moving_the_datum_from_bumper_to_axle_shifts_by_the_overhang(cars93: list[VehicleGeometry]) -> None:
    for car in cars93:
        for bumper, axle, overhang_mm in (
            ("front_bumper", "front_axle", known(car.front_overhang_mm)),
            ("rear_bumper", "rear_axle", -known(car.rear_overhang_mm)),
        ):
            from_bumper = placed(car, Offset(bumper, 1500.0), Offset("centreline", 200.0))
            from_axle = placed(car, Offset(axle, 1500.0), Offset("centreline", 200.0))
            assert from_bumper.x_mm - from_axle.x_mm == pytest.approx(overhang_mm)
            assert from_bumper.y_mm == from_axle.y_mm


def test_a_mirrored_lateral_distance_mirrors_the_place(
    cars93: list[VehicleGeometry], cars_with_tracks: list[VehicleGeometry]
) -> None:
    for car in cars93:
        left = placed(car, Offset("front_axle", 900.0), Offset("aim_line", 640.0))
        right = placed(car, Offset("front_axle", 900.0), Offset("aim_line", -640.0))
        assert (left.x_mm, left.y_mm) == (right.x_mm, -right.y_mm)
    for car in cars_with_tracks:
        left = placed(car, Offset("wheel:rear_left", -900.0), Offset("wheel:rear_left", 640.0))
        right = placed(car, Offset("wheel:rear_right", -900.0), Offset("wheel:rear_right", -640.0))
        assert (left.x_mm, left.y_mm) == (right.x_mm, -right.y_mm)


def test_wheels_stand_a_track_apart_on_each_axle_and_a_wheelbase_between(
    cars_with_tracks: list[VehicleGeometry],
) -> None:
    for car in cars_with_tracks:
        wheels = wheel_centres(car)
        (fl, fr), (rl, rr) = (
            (wheels[f"wheel:{end}_left"], wheels[f"wheel:{end}_right"]) for end in ("front", "rear")
        )
        assert (fl[1] - fr[1], rl[1] - rr[1]) == pytest.approx((car.front_track_mm, car.rear_track_mm))
        half_sum_mm = (known(car.front_track_mm) + known(car.rear_track_mm)) / 2
        diagonal_mm = hypot(known(car.wheelbase_mm), half_sum_mm)
        assert hypot(fl[0] - rr[0], fl[1] - rr[1]) == pytest.approx(diagonal_mm)


def test_a_placement_from_a_wheel_is_there_whatever_the_thrust_line_does(
    cars_with_tracks: list[VehicleGeometry],
) -> None:
    for car in cars_with_tracks:
        for datum, centre in wheel_centres(car).items():
            turned = VehicleGeometry(
                car.wheelbase_mm, car.front_track_mm, car.rear_track_mm, thrust_yaw_deg=0.7
            )
            pose = placed(turned, Offset(datum, 0.0), Offset(datum, 0.0), "thrust_line")
            assert (pose.x_mm, pose.y_mm) == pytest.approx(centre)


def test_the_room_for_car_and_board_is_the_greatest_extent_of_both(cars93: list[VehicleGeometry]) -> None:
    board = ((-50.0, -1000.0), (50.0, -1000.0), (50.0, 1000.0), (-50.0, 1000.0))
    for car in cars93:
        length_mm = known(car.wheelbase_mm) + known(car.front_overhang_mm) + known(car.rear_overhang_mm)
        alone = extent([vehicle_outline(car)])
        assert (alone.length_mm, alone.width_mm) == pytest.approx((length_mm, car.width_mm))
        pose = placed(car, Offset("front_bumper", 1500.0), Offset("centreline", 300.0))
        both = extent([vehicle_outline(car), footprint(board, pose)])
        assert both.length_mm == pytest.approx(length_mm + 1500.0 + 50.0)
        assert both.y_max_mm == pytest.approx(300.0 + 1000.0)
        assert both.y_min_mm == pytest.approx(min(-known(car.width_mm) / 2, 300.0 - 1000.0))
