"""Heights of a setup on floors that are not flat, worked out by hand for the invented cars."""

from typing import Any

import httpx
import pytest

from service.setups.job import Job, known
from snapline import Snapline
from snapline.wire.common import BayPose
from snapline.wire.setup_floor import FixtureOnFloor, SetupFloor, WheelReading, WheelReadings
from snapline.wire.setups import PlacedFixture, Setup
from snapline.wire.sites import SurveyPoint

BOARD = Job("quellovane-sablune-2023-eu", "camera-board")
MATS = Job("ostrivelle-cambresolle-2019-eu", "surround-view-mats")
WHEELBASE_MM = known(BOARD.vehicle.dimensions.wheelbase_mm)


def on(client: Snapline, job: Job, **fields: Any) -> Setup:
    return client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, **fields)


def only(setup: Setup) -> tuple[PlacedFixture, FixtureOnFloor]:
    (item,) = (item for stage in setup.stages for item in stage.placements)
    assert item.floor is not None
    return item, item.floor


def wheels(front_mm: float, rear_mm: float) -> WheelReadings:
    front, rear = WheelReading(z_mm=front_mm), WheelReading(z_mm=rear_mm)
    return WheelReadings(front_left=front, front_right=front, rear_left=rear, rear_right=rear)


def level_feet(client: Snapline, z_mm: float = 0.0) -> dict[str, dict[str, float]]:
    (item,) = (item for stage in on(client, BOARD).stages for item in stage.placements)
    return {item.id: {foot.name: z_mm for foot in item.feet}}


def sloping(ahead: float, left: float, side_mm: float = 20_000.0) -> tuple[SurveyPoint, ...]:
    corners = ((0.0, 0.0), (side_mm, 0.0), (side_mm, side_mm), (0.0, side_mm))
    return tuple(SurveyPoint(x_mm=x, y_mm=y, z_mm=ahead * x + left * y) for x, y in corners)


def test_without_a_floor_it_is_said_to_be_taken_as_flat(client: Snapline) -> None:
    setup = on(client, BOARD)
    assert any("floor is taken to be flat" in text for text in setup.assumed)
    assert setup.floor is None
    assert all(item.floor is None for stage in setup.stages for item in stage.placements)
    drive = on(client, Job("quellovane-lirra-2020-eu", "camera-drive"))
    assert drive.assumed == ()


def test_readings_at_tyres_and_feet_raise_a_board_ahead_of_a_car_with_its_nose_up(client: Snapline) -> None:
    floor = SetupFloor(u_z_mm=0.5, wheels=wheels(0.005 * WHEELBASE_MM, 0.0), feet=level_feet(client))
    setup = on(client, BOARD, floor=floor)
    item, found = only(setup)
    # 5 mm/m at the board's distance, less what the height loses by leaning (0.015 mm).
    by_hand_mm = item.in_vehicle.z_mm + 0.005 * item.in_vehicle.x_mm
    assert found.height_setting_mm == pytest.approx(by_hand_mm, abs=0.1)
    assert found.height_error_if_ignored_mm == pytest.approx(-0.005 * item.in_vehicle.x_mm, abs=0.1)
    assert found.u_height_setting_mm is not None
    assert 0.5 < found.u_height_setting_mm < 2.5
    assert found.floor_tilt is not None
    assert found.floor_tilt.angle_deg == pytest.approx(0.2864765, abs=1e-6)
    assert "above the floor at its feet, plumb" in found.statement
    assert "more than on a flat floor" in found.statement
    assert "leans 0.3°" in found.statement
    assert setup.floor is not None
    assert setup.floor.slope_mm_per_m == pytest.approx(5.0)
    assert setup.floor.vehicle_pitch_deg == pytest.approx(-0.2864765, abs=1e-6)
    assert not any("floor" in text for text in setup.assumed)


def test_readings_of_a_staff_and_a_car_on_a_lift(client: Snapline) -> None:
    up = SetupFloor(u_z_mm=0.5, wheels=wheels(900.0, 900.0), feet=level_feet(client))
    down = SetupFloor(
        u_z_mm=0.5, wheels=wheels(400.0, 400.0), feet=level_feet(client, 1300.0), readings="staff"
    )
    for floor in (up, down):
        item, found = only(on(client, BOARD, floor=floor))
        assert found.height_setting_mm == pytest.approx(item.in_vehicle.z_mm + 900.0, abs=1e-6)


@pytest.mark.parametrize("heading_deg", [0.0, 90.0, -37.0])
def test_on_a_surveyed_slope_the_height_is_nominal_and_the_lean_follows_the_heading(
    client: Snapline, heading_deg: float
) -> None:
    pose = BayPose(x_mm=9_000, y_mm=9_000, heading_deg=heading_deg)
    setup = on(client, BOARD, bay_pose=pose, floor=SetupFloor(u_z_mm=0.4, survey=sloping(0.01, 0.0)))
    item, found = only(setup)
    assert found.height_setting_mm == pytest.approx(item.in_vehicle.z_mm, abs=0.1)
    assert found.floor_tilt is not None
    assert found.floor_tilt.angle_deg == pytest.approx(0.0, abs=1e-6)
    assert "leans" not in found.statement
    assert setup.floor is not None
    assert setup.floor.slope_mm_per_m == pytest.approx(10.0)
    if heading_deg == 90.0:  # across the slope, which rises to the car's right: its left side is down
        assert setup.floor.vehicle_roll_deg == pytest.approx(-0.5729387, abs=1e-6)
    assert any("Between its surveyed points" in text for text in setup.assumed)


def test_a_board_outside_the_survey_says_so_and_keeps_its_place(client: Snapline) -> None:
    small = sloping(0.0, 0.0, side_mm=4_000.0)
    pose = BayPose(x_mm=200, y_mm=2_000, heading_deg=0)
    setup = on(client, BOARD, bay_pose=pose, floor=SetupFloor(u_z_mm=0.4, survey=small))
    item, found = only(setup)
    assert found.height_setting_mm is None
    assert "outside the surveyed floor" in found.statement
    assert item.in_vehicle == only_pose(on(client, BOARD))


def only_pose(setup: Setup) -> Any:
    (item,) = (item for stage in setup.stages for item in stage.placements)
    return item.in_vehicle


def test_a_foot_without_reading_and_a_mat_without_feet_say_so(client: Snapline) -> None:
    _, found = only(on(client, BOARD, floor=SetupFloor(u_z_mm=0.5, wheels=wheels(0, 0))))
    assert found.height_setting_mm is None
    assert "no reading" in found.statement
    setup = on(client, MATS, floor=SetupFloor(u_z_mm=0.5, wheels=wheels(0, 0)))
    for item in (item for stage in setup.stages for item in stage.placements):
        assert item.floor is not None
        assert "feet are not known" in item.floor.statement


LEVEL = {name: {"z_mm": 0} for name in ("front_left", "front_right", "rear_left", "rear_right")}
SURVEY = [{"x_mm": x, "y_mm": y, "z_mm": 0} for x, y in ((0, 0), (20_000, 0), (0, 20_000))]
POSE = {"x_mm": 5000, "y_mm": 5000, "heading_deg": 0}


STEEP = [point | {"z_mm": 0.3 * point["x_mm"]} for point in SURVEY]
ON_A_STEP = LEVEL | {"rear_left": {"z_mm": 3000}}
AWAY = POSE | {"x_mm": -9000}


@pytest.mark.parametrize(
    ("floor", "pose", "pointer", "code"),
    [
        ({}, None, "/floor/wheels", "INVALID_VALUE"),
        ({"survey": SURVEY}, None, "/bay_pose", "INVALID_VALUE"),
        ({"survey": SURVEY, "wheels": LEVEL}, POSE, "/floor", "INVALID_VALUE"),
        ({"survey": SURVEY[:2]}, POSE, "/floor/survey", "INVALID_VALUE"),
        ({"survey": [*SURVEY, SURVEY[0]]}, POSE, "/floor/survey/3", "INVALID_VALUE"),
        ({"survey": SURVEY}, AWAY, "/floor/survey", "INVALID_VALUE"),
        ({"survey": STEEP}, POSE, "/floor/survey", "INVALID_VALUE"),
        ({"wheels": ON_A_STEP}, None, "/floor/wheels", "INVALID_VALUE"),
        ({"wheels": LEVEL, "feet": {"bord": {}}}, None, "/floor/feet/bord", "UNKNOWN_NAME"),
        ({"wheels": LEVEL, "feet": {"board": {"toe": 0}}}, None, "/floor/feet/board/toe", "UNKNOWN_NAME"),
    ],
)
def test_a_floor_that_cannot_be_is_a_problem_with_its_mend(
    http: httpx.Client, floor: dict[str, Any], pose: dict[str, Any] | None, pointer: str, code: str
) -> None:
    body = {"vehicle_id": BOARD.vehicle_id, "procedure_id": BOARD.procedure_id, "bay_pose": pose}
    body["floor"] = {"u_z_mm": 0.5} | floor
    answer = http.post("/v1/setups", json=body)
    assert answer.status_code == 422, answer.text
    faults = answer.json()["errors"]
    assert {(fault["pointer"], fault["code"]) for fault in faults} == {(pointer, code)}
    assert all(fault["mend"] for fault in faults)
