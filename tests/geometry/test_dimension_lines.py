"""From which point a drawing shows that a distance is counted."""

from dataclasses import replace
from math import atan2, cos, degrees, hypot, radians, tan

import pytest

from snapline_service.errors import UnknownName
from snapline_service.geometry import Offset, Placement, VehicleGeometry, datum_point, dimension_line, place

FLOOR = Offset("floor", 1200.0)
PLACEMENTS = [
    Placement("centreline", Offset("front_bumper", 1500.0), Offset("centreline", 200.0), FLOOR),
    Placement("thrust_line", Offset("front_axle", 1500.0), Offset("centreline", -200.0), FLOOR),
    Placement("thrust_line", Offset("wheel:rear_left", -900.0), Offset("aim_line", 350.0), FLOOR),
    Placement("sensor:rear", Offset("rear_bumper", 900.0), Offset("wheel:rear_right", 350.0), FLOOR),
    Placement("sensor:rear", Offset("rear_bumper", 900.0), Offset("centreline", 350.0), FLOOR),
    Placement("sensor:left", Offset("sensor:left", 900.0), Offset("wheel:front_left", -350.0), FLOOR),
]


def test_along_is_counted_from_where_the_thrust_line_crosses_the_bumper(car: VehicleGeometry) -> None:
    aimed = Placement("thrust_line", Offset("front_bumper", 1500.0), Offset("aim_line", 0.0), FLOOR)
    point = datum_point(replace(car, thrust_yaw_deg=0.5), aimed, "along")
    assert point == pytest.approx((3680.0, 3680.0 * tan(radians(0.5))))


def test_a_wheel_is_the_wheel_and_not_its_projection(car: VehicleGeometry) -> None:
    from_wheel = Placement(
        "centreline", Offset("wheel:front_left", 0.0), Offset("wheel:rear_right", 0.0), FLOOR
    )
    assert datum_point(car, from_wheel, "along") == (2810.0, 780.0)
    assert datum_point(car, from_wheel, "lateral") == (0.0, -790.0)


def test_a_lateral_distance_starts_on_the_centreline_or_the_aim_line(car: VehicleGeometry) -> None:
    turned = replace(car, thrust_yaw_deg=0.5)
    from_centreline = datum_point(turned, PLACEMENTS[1], "lateral")
    assert from_centreline[1] == pytest.approx(0.0, abs=1e-9)
    on_aim_line = datum_point(turned, PLACEMENTS[2], "lateral")
    assert degrees(atan2(-on_aim_line[1], -on_aim_line[0])) == pytest.approx(0.5)  # behind the rear axle


@pytest.mark.parametrize("placement", PLACEMENTS)
def test_the_lines_drawn_are_as_long_as_the_distances_they_show(
    car: VehicleGeometry, placement: Placement
) -> None:
    turned = replace(car, thrust_yaw_deg=0.5)
    pose = place(turned, placement).in_vehicle
    along = dimension_line(turned, placement, "along")
    lateral = dimension_line(turned, placement, "lateral")
    for line, offset in ((along, placement.along), (lateral, placement.lateral)):
        length_mm = hypot(line.end[0] - line.start[0], line.end[1] - line.start[1])
        assert length_mm == pytest.approx(abs(offset.distance_mm))
    assert lateral.end == pytest.approx((pose.x_mm, pose.y_mm))
    # The reference point lies square to the end of the along line.
    run = (along.end[0] - along.start[0], along.end[1] - along.start[1])
    rest = (pose.x_mm - along.end[0], pose.y_mm - along.end[1])
    assert run[0] * rest[0] + run[1] * rest[1] == pytest.approx(0.0, abs=1e-4)


def test_the_along_line_runs_in_the_aim_direction(car: VehicleGeometry) -> None:
    line = dimension_line(replace(car, thrust_yaw_deg=0.5), PLACEMENTS[1], "along")
    assert line.end[0] - line.start[0] == pytest.approx(1500.0 * cos(radians(0.5)))
    assert line.end[1] > line.start[1]


def test_a_drawing_refuses_what_the_placement_refuses(car: VehicleGeometry) -> None:
    with pytest.raises(UnknownName):
        datum_point(car, replace(PLACEMENTS[0], lateral=Offset("sensor:no", 0.0)), "along")
