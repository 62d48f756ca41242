"""The demo scenario as the trade would find it. All ranges: common practice, no source."""

from math import cos, radians, sin
from typing import Any

import pytest
from shapely import LineString, Point, Polygon

from service.catalogue.demo import FIXTURES, STANDING, VEHICLES, Standing, fixtures_for
from snapline.wire.catalogue import VehicleDocument
from snapline_service.geometry import vehicle_outline
from snapline_service.setups.translation import vehicle_geometry


def name_of(standing: Standing) -> str:
    return f"{standing.vehicle.id}:{standing.procedure.id}:{standing.item.id}"


def of_kind(*kinds: str) -> list[Any]:
    return [pytest.param(s, id=name_of(s)) for s in STANDING if s.kinds <= set(kinds)]


@pytest.mark.parametrize("standing", of_kind("board"))
def test_a_board_ahead_stands_one_to_five_metres_off_at_camera_height(standing: Standing) -> None:
    assert 900 <= standing.pose.z_mm <= 1600
    if abs(standing.pose.y_mm) < 600:
        assert 1000 <= standing.ahead_of_bumper_mm <= 5000
    tolerance = standing.item.tolerance
    assert tolerance is not None
    assert 3 <= (tolerance.along_mm or 0) <= 10
    assert 3 <= (tolerance.lateral_mm or 0) <= 5
    assert 0.1 <= (tolerance.yaw_deg or 0) <= 0.5


@pytest.mark.parametrize("standing", of_kind("corner_reflector", "doppler_simulator", "reflector_panel"))
def test_a_radar_target_stands_ahead_or_behind_or_beside_at_radar_height(standing: Standing) -> None:
    assert 300 <= standing.pose.z_mm <= 900
    assert abs(standing.pose.y_mm) <= 2600
    wheelbase_mm = standing.vehicle.dimensions.wheelbase_mm
    assert wheelbase_mm is not None
    if standing.pose.x_mm < 0:
        assert 2000 <= standing.behind_bumper_mm <= 3000
    elif abs(standing.pose.y_mm) < 600:
        assert 1200 <= standing.ahead_of_bumper_mm <= 3000
    else:
        assert standing.pose.x_mm > wheelbase_mm


@pytest.mark.parametrize("standing", of_kind("mat"))
def test_a_mat_lies_on_the_floor_within_three_metres_of_the_car(standing: Standing) -> None:
    assert standing.pose.z_mm == 0
    outline = Polygon(vehicle_outline(vehicle_geometry(standing.vehicle)))
    assert 0 < outline.distance(Point(standing.pose.x_mm, standing.pose.y_mm)) <= 3000


@pytest.mark.parametrize(
    "standing", [pytest.param(s, id=name_of(s)) for s in STANDING if "weight" not in s.kinds]
)
def test_every_fixture_faces_the_car_and_stands_outside_it(standing: Standing) -> None:
    outline = Polygon(vehicle_outline(vehicle_geometry(standing.vehicle)))
    x_mm, y_mm, yaw = standing.pose.x_mm, standing.pose.y_mm, radians(standing.pose.yaw_deg)
    assert outline.distance(Point(x_mm, y_mm)) > 200
    assert LineString([(x_mm, y_mm), (x_mm + 6000 * cos(yaw), y_mm + 6000 * sin(yaw))]).intersects(outline)


def test_a_weight_sits_inside_the_car() -> None:
    for standing in STANDING:
        if "weight" in standing.kinds:
            outline = Polygon(vehicle_outline(vehicle_geometry(standing.vehicle)))
            assert outline.contains(Point(standing.pose.x_mm, standing.pose.y_mm))
            assert 500 <= standing.pose.z_mm <= 900


@pytest.mark.parametrize("standing", [pytest.param(s, id=name_of(s)) for s in STANDING])
def test_a_named_fixture_or_its_stand_reaches_the_height(standing: Standing) -> None:
    carrier = standing.item.carrier
    names = carrier.named if carrier else [fixture.id for fixture in fixtures_for(standing.item)]
    limits = [(FIXTURES[name].height_min_mm, FIXTURES[name].height_max_mm) for name in names]
    on_the_floor_itself = standing.kinds <= {"mat", "weight"}
    assert on_the_floor_itself or any(
        low is not None and high is not None and low <= standing.pose.z_mm <= high for low, high in limits
    )


@pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=VEHICLES)
def test_a_vehicle_has_the_size_of_a_real_one_and_its_sensors_sit_in_it(vehicle: VehicleDocument) -> None:
    size = vehicle.dimensions
    assert size.wheelbase_mm is not None
    assert size.width_mm is not None
    assert 2400 <= size.wheelbase_mm <= (3300 if vehicle.light_vehicle else 4300)
    assert 1650 <= size.width_mm <= 2050
    assert all(1400 <= (track_mm or 0) <= 1750 for track_mm in (size.front_track_mm, size.rear_track_mm))
    overhangs_mm = [mm for mm in (size.front_overhang_mm, size.rear_overhang_mm) if mm]
    assert all(650 <= mm <= (1150 if vehicle.light_vehicle else 1400) for mm in overhangs_mm)
    for name, sensor in vehicle.sensors.items():
        assert -(size.rear_overhang_mm or 0) < sensor.x_mm < size.wheelbase_mm + (size.front_overhang_mm or 0)
        assert abs(sensor.y_mm) < size.width_mm / 2 + 250
        if name == "front_camera":
            assert 600 <= size.wheelbase_mm - sensor.x_mm <= 900
            assert 1200 <= sensor.z_mm <= 1500
        if name == "front_radar":
            assert size.front_overhang_mm is not None
            assert 50 <= size.wheelbase_mm + size.front_overhang_mm - sensor.x_mm <= 150


def test_limits_and_readings_have_a_unit_and_acts_have_none() -> None:
    items = [item for v in VEHICLES.values() for p in v.procedures for item in p.preparation]
    assert {item.type for item in items} == {"limit", "act", "reading"}
    assert all((item.unit is None) == (item.type == "act") for item in items)


def test_a_thrust_limit_is_the_one_that_preparation_states() -> None:
    limited = [vehicle for vehicle in VEHICLES.values() if vehicle.thrust_limit_deg]
    for vehicle in limited:
        items = [item for p in vehicle.procedures for item in p.preparation if item.item == "thrust_angle"]
        assert {item.maximum for item in items} == {vehicle.thrust_limit_deg}
