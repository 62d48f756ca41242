"""What a misplaced fixture does to the aim, and how far it may be misplaced."""

from dataclasses import astuple, replace
from math import atan2, cos, degrees, inf, nan, radians, sin, tan

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from snapline_service.errors import InvalidValue
from snapline_service.geometry import Position, aim_error, floor_tolerance

SENSOR = Position(3600.0, 0.0, 450.0)
AHEAD = Position(5600.0, 0.0, 450.0)
HUNDRED_METRES_MM = 100_000.0


@pytest.mark.parametrize(
    ("angle_deg", "range_m", "miss_m"),
    [
        (0.1, 100, 0.174533),
        (0.5, 100, 0.872687),
        (1.0, 100, 1.745506),
        (2.0, 100, 3.492077),
        (1.0, 50, 0.872753),
        (1.0, 150, 2.618260),
    ],
)
def test_an_aim_error_becomes_metres_down_the_road(angle_deg: float, range_m: float, miss_m: float) -> None:
    """Range times tangent; '1 degree at 100 m is 1.75 m' is the trade's common figure."""
    moved = replace(AHEAD, y_mm=2000.0 * tan(radians(angle_deg)))
    error = aim_error(SENSOR, AHEAD, moved, range_m * 1000.0)
    assert error.lateral_miss_mm / 1000.0 == pytest.approx(miss_m, abs=1e-6)
    assert error.yaw_error_deg == pytest.approx(angle_deg)


def test_left_and_up_are_positive() -> None:
    error = aim_error(SENSOR, AHEAD, Position(5600.0, 10.0, 460.0), HUNDRED_METRES_MM)
    assert error.yaw_error_deg > 0
    assert error.elevation_error_deg > 0
    assert error.lateral_miss_mm > 0
    behind = aim_error(SENSOR, Position(-900.0, 0.0, 450.0), Position(-900.0, 10.0, 440.0), HUNDRED_METRES_MM)
    assert behind.yaw_error_deg < 0  # seen rearward, the car's left is to the right
    assert behind.elevation_error_deg < 0


def test_a_change_of_bearing_across_the_rear_is_small() -> None:
    nominal = Position(-900.0, 5.0, 450.0)
    error = aim_error(SENSOR, nominal, replace(nominal, y_mm=-5.0), HUNDRED_METRES_MM)
    assert error.yaw_error_deg == pytest.approx(2 * degrees(atan2(5.0, 4500.0)))


def test_straight_ahead_one_degree_is_a_tangent_sideways_and_in_height() -> None:
    tolerance = floor_tolerance(
        SENSOR, AHEAD, aim_yaw_deg=0.0, allowed_yaw_deg=1.0, allowed_elevation_deg=0.5
    )
    assert tolerance.lateral_mm == pytest.approx(2000.0 * tan(radians(1.0)))
    assert tolerance.height_mm == pytest.approx(2000.0 * tan(radians(0.5)))
    assert tolerance.along_mm is None  # on the line of sight, at the sensor's height


def test_without_an_elevation_limit_height_never_matters() -> None:
    assert floor_tolerance(SENSOR, AHEAD, aim_yaw_deg=0.0, allowed_yaw_deg=1.0).height_mm is None


def test_beside_the_line_of_sight_distance_matters_too() -> None:
    aside = replace(AHEAD, y_mm=2000.0)  # bearing 45 degrees
    tolerance = floor_tolerance(SENSOR, aside, aim_yaw_deg=0.0, allowed_yaw_deg=1.0)
    # Nearer to the sensor turns the bearing faster: 2000 - 2000 / tan(46 degrees).
    assert tolerance.along_mm == pytest.approx(2000.0 - 2000.0 / tan(radians(46.0)))
    assert tolerance.lateral_mm == pytest.approx(2000.0 - 2000.0 * tan(radians(44.0)))


def test_along_and_across_follow_the_aim_direction() -> None:
    to_the_left = Position(3600.0, 2000.0, 700.0)
    along_left = floor_tolerance(
        SENSOR, to_the_left, aim_yaw_deg=90.0, allowed_yaw_deg=1.0, allowed_elevation_deg=1.0
    )
    forward = floor_tolerance(
        SENSOR, to_the_left, aim_yaw_deg=0.0, allowed_yaw_deg=1.0, allowed_elevation_deg=1.0
    )
    assert along_left.along_mm == pytest.approx(forward.lateral_mm)
    assert along_left.lateral_mm == pytest.approx(forward.along_mm)
    assert along_left.height_mm == forward.height_mm


distances_mm = st.floats(300.0, 8000.0)
allowances_deg = st.floats(0.05, 5.0)


@given(
    distance_mm=distances_mm,
    bearing_deg=st.floats(-180.0, 180.0),
    height_mm=st.floats(-1500.0, 1500.0),
    aim_deg=st.floats(-180.0, 180.0),
    yaw_deg=allowances_deg,
    elevation_deg=st.none() | allowances_deg,
)
def test_a_point_moved_by_exactly_the_tolerance_has_exactly_the_allowed_error(
    *,
    distance_mm: float,
    bearing_deg: float,
    height_mm: float,
    aim_deg: float,
    yaw_deg: float,
    elevation_deg: float | None,
) -> None:
    off_sight_deg = (bearing_deg - aim_deg) % 90.0
    assume(0.01 < off_sight_deg < 89.99)
    bearing = radians(bearing_deg)
    nominal = Position(
        SENSOR.x_mm + distance_mm * cos(bearing),
        SENSOR.y_mm + distance_mm * sin(bearing),
        SENSOR.z_mm + height_mm,
    )
    tolerance = floor_tolerance(
        SENSOR, nominal, aim_yaw_deg=aim_deg, allowed_yaw_deg=yaw_deg, allowed_elevation_deg=elevation_deg
    )

    def used(direction: tuple[float, float, float], shift_mm: float) -> float:
        """Return the larger part of an allowance that a shift uses up."""
        moved = Position(
            nominal.x_mm + shift_mm * direction[0],
            nominal.y_mm + shift_mm * direction[1],
            nominal.z_mm + shift_mm * direction[2],
        )
        error = aim_error(SENSOR, nominal, moved, HUNDRED_METRES_MM)
        of_elevation = 0.0 if elevation_deg is None else abs(error.elevation_error_deg) / elevation_deg
        return max(abs(error.yaw_error_deg) / yaw_deg, of_elevation)

    c, s = cos(radians(aim_deg)), sin(radians(aim_deg))
    for direction, limit_mm in (
        ((c, s, 0.0), tolerance.along_mm),
        ((-s, c, 0.0), tolerance.lateral_mm),
        ((0.0, 0.0, 1.0), tolerance.height_mm),
    ):
        if limit_mm is None:
            assert max(used(direction, sign * 10.0**power) for sign in (1, -1) for power in range(7)) <= 1.0
            continue
        assert max(used(direction, limit_mm), used(direction, -limit_mm)) == pytest.approx(1.0, rel=1e-6)
        for part in (0.999, 0.9, 0.5, 0.1):
            assert max(used(direction, part * limit_mm), used(direction, -part * limit_mm)) < 1.0


def test_high_above_the_sensor_only_going_away_or_down_uses_up_the_allowance() -> None:
    steep = Position(3600.0 + 100.0, 0.0, 450.0 + 5000.0)  # elevation 88.85 degrees, 2 more pass the zenith
    tolerance = floor_tolerance(
        SENSOR, steep, aim_yaw_deg=0.0, allowed_yaw_deg=1.0, allowed_elevation_deg=2.0
    )
    reached = atan2(5000.0, 100.0) - radians(2.0)
    assert tolerance.height_mm == pytest.approx(5000.0 - 100.0 * tan(reached))
    assert tolerance.along_mm == pytest.approx(5000.0 / tan(reached) - 100.0)


@pytest.mark.parametrize("allowed_deg", [0.0, -1.0, 90.0, nan, inf])
def test_an_allowance_is_an_angle_above_0_and_below_90(allowed_deg: float) -> None:
    with pytest.raises(InvalidValue) as refusal:
        floor_tolerance(SENSOR, AHEAD, aim_yaw_deg=0.0, allowed_yaw_deg=allowed_deg)
    assert refusal.value.pointer == "/allowed_yaw_deg"
    with pytest.raises(InvalidValue) as refusal:
        floor_tolerance(
            SENSOR, AHEAD, aim_yaw_deg=0.0, allowed_yaw_deg=1.0, allowed_elevation_deg=allowed_deg
        )
    assert refusal.value.pointer == "/allowed_elevation_deg"


def test_a_point_above_the_sensor_has_no_bearing_to_keep() -> None:
    with pytest.raises(InvalidValue, match="straight above or below"):
        floor_tolerance(SENSOR, replace(SENSOR, z_mm=900.0), aim_yaw_deg=0.0, allowed_yaw_deg=1.0)


def test_a_tolerance_is_the_same_wherever_car_and_fixture_stand_together() -> None:
    shifted = [
        replace(p, x_mm=p.x_mm - 7000.0, y_mm=p.y_mm + 300.0) for p in (SENSOR, Position(5000.0, 700.0, 0.0))
    ]
    here = floor_tolerance(
        SENSOR, Position(5000.0, 700.0, 0.0), aim_yaw_deg=10.0, allowed_yaw_deg=1.0, allowed_elevation_deg=1.0
    )
    there = floor_tolerance(*shifted, aim_yaw_deg=10.0, allowed_yaw_deg=1.0, allowed_elevation_deg=1.0)
    assert astuple(here) == pytest.approx(astuple(there))
