"""What is asked for wrongly is refused by name, with the place in the request and what would mend it."""

from dataclasses import replace
from math import inf, nan
from typing import Any

import pytest

from snapline_service.errors import DatumsDoNotFixAPoint, InvalidValue, MissingDimension, UnknownName
from snapline_service.geometry import (
    BayPose,
    Offset,
    Placement,
    Sensor,
    VehicleGeometry,
    check,
    place,
    vehicle_outline,
    wheel_centres,
)

BOARD_AHEAD = Placement(
    "centreline", Offset("front_bumper", 1500.0), Offset("centreline", 0.0), Offset("floor", 1200.0), 180.0
)


@pytest.mark.parametrize(
    ("changes", "pointer", "advice"),
    [
        pytest.param({"aim_line": "centerline"}, "/placement/aim_line", "'centreline'", id="aim-line"),
        pytest.param(
            {"aim_line": "sensor:front"}, "/placement/aim_line", "'sensor:front.radar'", id="aim-sensor"
        ),
        pytest.param(
            {"along": Offset("front_bumber", 0.0)}, "/placement/along/datum", "'front_bumper'", id="along"
        ),
        pytest.param(
            {"along": Offset("floor", 0.0)}, "/placement/along/datum", "rear_axle", id="along-floor"
        ),
        pytest.param(
            {"lateral": Offset("wheel:left_front", 0.0)},
            "/placement/lateral/datum",
            "wheel:front_left",
            id="wheel",
        ),
        pytest.param(
            {"lateral": Offset("front_axle", 0.0)}, "/placement/lateral/datum", "aim_line", id="lateral-line"
        ),
        pytest.param(
            {"height": Offset("sensor:lift", 0.0)},
            "/placement/height/datum",
            "'sensor:left'",
            id="height-sensor",
        ),
        pytest.param(
            {"height": Offset("front_axle", 0.0)}, "/placement/height/datum", "floor", id="height-axle"
        ),
    ],
)
def test_an_unknown_name_comes_back_with_the_names_that_are_allowed(
    car: VehicleGeometry, changes: dict[str, Any], pointer: str, advice: str
) -> None:
    with pytest.raises(UnknownName) as refusal:
        place(car, replace(BOARD_AHEAD, **changes))
    assert refusal.value.pointer == pointer
    assert advice in refusal.value.mend


@pytest.mark.parametrize(
    ("along", "lateral", "pointer", "pair"),
    [
        ("sensor:left", "centreline", "/placement/lateral/datum", ("'sensor:left'", "'centreline'")),
        ("front_bumper", "aim_line", "/placement/along/datum", ("'sensor:left'", "'front_bumper'")),
        ("rear_axle", "centreline", "/placement/along/datum", ("'sensor:left'", "'rear_axle'")),
    ],
)
def test_a_line_that_the_aim_line_does_not_cross_fixes_no_point_and_the_pair_is_named(
    car: VehicleGeometry, along: str, lateral: str, pointer: str, pair: tuple[str, str]
) -> None:
    beside = replace(
        BOARD_AHEAD, aim_line="sensor:left", along=Offset(along, 1000.0), lateral=Offset(lateral, 0.0)
    )
    with pytest.raises(DatumsDoNotFixAPoint) as refusal:
        place(car, beside)
    assert refusal.value.pointer == pointer
    assert all(name in refusal.value.detail for name in pair)
    assert "wheel" in refusal.value.mend


@pytest.mark.parametrize(
    ("yaw_deg", "fixes"), [(87.13, True), (87.14, False), (-87.14, False), (92.87, True)]
)
def test_the_limit_is_a_determinant_of_0_05(car: VehicleGeometry, yaw_deg: float, fixes: bool) -> None:
    # arccos 0.05 = 87.134 degrees.
    turned = replace(car, sensors={"left": replace(car.sensors["left"], yaw_deg=yaw_deg)})
    beside = replace(BOARD_AHEAD, aim_line="sensor:left", along=Offset("sensor:left", 1000.0))
    if fixes:
        assert place(turned, beside).in_vehicle.y_mm == 0.0
    else:
        with pytest.raises(DatumsDoNotFixAPoint):
            place(turned, beside)


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("wheelbase_mm", {}),
        ("front_overhang_mm", {}),
        ("rear_overhang_mm", {"along": Offset("rear_bumper", -2000.0)}),
        ("wheelbase_mm", {"along": Offset("front_axle", 0.0)}),
        ("wheelbase_mm", {"along": Offset("wheel:front_right", 0.0)}),
        ("front_track_mm", {"lateral": Offset("wheel:front_left", 0.0)}),
        ("rear_track_mm", {"lateral": Offset("wheel:rear_right", 0.0)}),
        ("rear_track_mm", {"aim_line": "thrust_line", "along": Offset("wheel:rear_left", 0.0)}),
    ],
)
def test_a_missing_dimension_is_named(car: VehicleGeometry, field: str, changes: dict[str, Any]) -> None:
    incomplete: dict[str, Any] = {field: None}
    with pytest.raises(MissingDimension) as refusal:
        place(replace(car, **incomplete), replace(BOARD_AHEAD, **changes))
    assert refusal.value.pointer == f"/vehicle/{field}"
    assert f"The vehicle's {field.removesuffix('_mm').replace('_', ' ')} is needed" in refusal.value.detail


@pytest.mark.parametrize("field", ["wheelbase_mm", "front_overhang_mm", "rear_overhang_mm", "width_mm"])
def test_an_outline_names_the_dimension_that_it_lacks(car: VehicleGeometry, field: str) -> None:
    incomplete: dict[str, Any] = {field: None}
    with pytest.raises(MissingDimension) as refusal:
        vehicle_outline(replace(car, **incomplete))
    assert refusal.value.pointer == f"/vehicle/{field}"


def test_wheel_centres_name_the_track_that_they_lack(car: VehicleGeometry) -> None:
    with pytest.raises(MissingDimension) as refusal:
        wheel_centres(replace(car, rear_track_mm=None))
    assert refusal.value.pointer == "/vehicle/rear_track_mm"


@pytest.mark.parametrize(
    ("key", "pointer"),
    [
        ("vehicle.wheelbase", "/standard_uncertainty/vehicle.wheelbase"),
        ("vehicle.sensors.radar.x_mm", "/standard_uncertainty/vehicle.sensors.radar.x_mm"),
        ("vehicle.sensors.left.roll_deg", "/standard_uncertainty/vehicle.sensors.left.roll_deg"),
        ("placement.along", "/standard_uncertainty/placement.along"),
        ("a/b~c", "/standard_uncertainty/a~1b~0c"),
    ],
)
def test_an_uncertainty_of_something_that_is_no_input_is_refused(
    car: VehicleGeometry, key: str, pointer: str
) -> None:
    with pytest.raises(UnknownName) as refusal:
        place(car, BOARD_AHEAD, standard_uncertainty={key: 1.0})
    assert refusal.value.pointer == pointer
    assert "vehicle.sensors.front.radar.yaw_deg" in refusal.value.mend


@pytest.mark.parametrize("u", [-0.1, nan, inf, 1_000_001.0])
def test_an_uncertainty_is_finite_and_not_negative(car: VehicleGeometry, u: float) -> None:
    with pytest.raises(InvalidValue) as refusal:
        place(car, BOARD_AHEAD, standard_uncertainty={"vehicle.sensors.front.radar.x_mm": u})
    assert refusal.value.pointer == "/standard_uncertainty/vehicle.sensors.front.radar.x_mm"


def test_an_uncertain_angle_is_uncertain_by_a_turn_at_most(car: VehicleGeometry) -> None:
    with pytest.raises(InvalidValue) as refusal:
        place(car, BOARD_AHEAD, standard_uncertainty={"placement.yaw_deg": 360.1})
    assert refusal.value.pointer == "/standard_uncertainty/placement.yaw_deg"


SIZES = ("wheelbase_mm", "front_track_mm", "rear_track_mm", "width_mm")
OVERHANGS = ("front_overhang_mm", "rear_overhang_mm")
IMPOSSIBLE_LENGTHS = (nan, inf, -inf, 1_000_000.1)
IMPOSSIBLE_ANGLES = (nan, inf, 360.1, -360.1)


@pytest.mark.parametrize(
    ("field", "value"),
    [(field, value) for field in SIZES for value in (*IMPOSSIBLE_LENGTHS, 0.0, -1.0)]
    + [(field, value) for field in OVERHANGS for value in (*IMPOSSIBLE_LENGTHS, -1.0)]
    + [("thrust_yaw_deg", value) for value in IMPOSSIBLE_ANGLES],
)
def test_an_impossible_dimension_is_refused(car: VehicleGeometry, field: str, value: float) -> None:
    impossible: dict[str, Any] = {field: value}
    with pytest.raises(InvalidValue) as refusal:
        check(replace(car, **impossible), BOARD_AHEAD)
    assert refusal.value.pointer == f"/vehicle/{field}"
    assert refusal.value.mend


@pytest.mark.parametrize(
    ("field", "value"),
    [(field, value) for field in ("x_mm", "y_mm", "z_mm") for value in (*IMPOSSIBLE_LENGTHS, -1_000_000.1)]
    + [(field, value) for field in ("yaw_deg", "pitch_deg") for value in IMPOSSIBLE_ANGLES],
)
def test_an_impossible_sensor_is_refused(car: VehicleGeometry, field: str, value: float) -> None:
    sensor = replace(Sensor(3600.0, 0.0, 450.0), **{field: value})
    with pytest.raises(InvalidValue) as refusal:
        check(replace(car, sensors={"radar/low~1": sensor}), BOARD_AHEAD)
    assert refusal.value.pointer == f"/vehicle/sensors/radar~1low~01/{field}"


@pytest.mark.parametrize("value", [*IMPOSSIBLE_LENGTHS, -1_000_000.1])
@pytest.mark.parametrize("axis", ["along", "lateral", "height"])
def test_an_impossible_distance_is_refused(car: VehicleGeometry, axis: str, value: float) -> None:
    impossible: dict[str, Any] = {axis: replace(getattr(BOARD_AHEAD, axis), distance_mm=value)}
    with pytest.raises(InvalidValue) as refusal:
        check(car, replace(BOARD_AHEAD, **impossible))
    assert refusal.value.pointer == f"/placement/{axis}/distance_mm"


@pytest.mark.parametrize("value", IMPOSSIBLE_ANGLES)
@pytest.mark.parametrize("field", ["yaw_deg", "pitch_deg", "roll_deg"])
def test_an_impossible_attitude_is_refused(car: VehicleGeometry, field: str, value: float) -> None:
    impossible: dict[str, Any] = {field: value}
    with pytest.raises(InvalidValue) as refusal:
        check(car, replace(BOARD_AHEAD, **impossible))
    assert refusal.value.pointer == f"/placement/{field}"


@pytest.mark.parametrize(
    ("field", "value"), [("x_mm", inf), ("y_mm", -1_000_000.1), ("heading_deg", 361.0), ("heading_deg", nan)]
)
def test_an_impossible_bay_pose_is_refused(car: VehicleGeometry, field: str, value: float) -> None:
    with pytest.raises(InvalidValue) as refusal:
        check(car, BOARD_AHEAD, bay_pose=replace(BayPose(0.0, 0.0, 0.0), **{field: value}))
    assert refusal.value.pointer == f"/bay_pose/{field}"


def test_what_is_at_the_limit_or_unknown_passes(car: VehicleGeometry) -> None:
    far = replace(BOARD_AHEAD, along=Offset("front_bumper", -1_000_000.0), yaw_deg=-360.0)
    check(car, far, bay_pose=BayPose(1_000_000.0, 0.0, 360.0))
    check(replace(car, front_overhang_mm=0.0))
    check(VehicleGeometry())
