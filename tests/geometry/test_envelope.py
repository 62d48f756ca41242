"""The room that car and fixtures take, seen from above."""

from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, affinity

from snapline_service.geometry import Pose, VehicleGeometry, extent, footprint, vehicle_outline

STAND = ((-300.0, -500.0), (300.0, -500.0), (0.0, 700.0))


def test_the_outline_runs_from_bumper_to_bumper(car: VehicleGeometry) -> None:
    outline = Polygon(vehicle_outline(car))
    assert outline.bounds == (-960.0, -920.0, 3680.0, 920.0)
    assert outline.exterior.is_ccw
    assert outline.area == (2810.0 + 870.0 + 960.0) * 1840.0


@given(x=st.floats(-1e4, 1e4), y=st.floats(-1e4, 1e4), yaw=st.floats(-360.0, 360.0))
def test_a_footprint_turns_and_moves_as_shapely_moves_it(x: float, y: float, yaw: float) -> None:
    ours = footprint(STAND, Pose(x, y, 1200.0, yaw, pitch_deg=20.0, roll_deg=-5.0))
    theirs = affinity.translate(affinity.rotate(Polygon(STAND), yaw, origin=(0, 0)), x, y)
    for mine, other in zip(ours, theirs.exterior.coords, strict=False):
        assert mine == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize(
    ("yaw_deg", "length_mm", "width_mm"), [(30.0, 4847.114317, 3895.448267), (45.0, 4525.4834, 4525.4834)]
)
def test_a_turned_car_needs_more_room(yaw_deg: float, length_mm: float, width_mm: float) -> None:
    """A rectangle 4.5 m x 1.9 m; closed form l cos + w sin, l sin + w cos, and shapely agrees."""
    car = VehicleGeometry(
        wheelbase_mm=2700.0, front_overhang_mm=800.0, rear_overhang_mm=1000.0, width_mm=1900.0
    )
    room = extent([footprint(vehicle_outline(car), Pose(0.0, 0.0, 0.0, yaw_deg, 0.0, 0.0))])
    assert (room.length_mm, room.width_mm) == pytest.approx((length_mm, width_mm), abs=1e-4)
    closed = 4500.0 * cos(radians(yaw_deg)) + 1900.0 * sin(radians(yaw_deg))
    assert room.length_mm == pytest.approx(closed)


def test_height_is_that_of_the_tallest_thing_or_unknown(car: VehicleGeometry) -> None:
    assert extent([vehicle_outline(car)], heights_mm=[1480.0, 2200.0, 300.0]).height_mm == 2200.0
    assert extent([vehicle_outline(car)]).height_mm is None
