"""Values of the right type that cannot be, and names that nothing has."""

import json
from typing import Any, NamedTuple

import httpx
import pytest

from service.problems.bodies import GONE, GOOD, problem_of, spoiled

IDENTIFY, MATCH, SETUPS = "/v1/vehicles/identify", "/v1/fixtures/match", "/v1/setups"
PLACEMENT, REFLECTOR, AIM = (f"/v1/geometry/{name}" for name in ("placement", "reflector", "aim-tolerance"))
KEYS = "/v1/keys?validate_only=true"
VIN = "S7MCE2D41P1402286"
KILOMETRE_MM = 1_000_000
NO_POINT = "DATUMS_DO_NOT_FIX_A_POINT"

# A body is refused before anything looks at a database, so one engine will do for this many.
pytestmark = pytest.mark.parametrize("demo_service", ["sqlite"], indirect=True)


class Case(NamedTuple):
    route: str
    changes: dict[str, Any]
    pointer: str
    code: str = "INVALID_VALUE"
    says: str = ""


def named(route: str, pointer: str, value: Any, says: str = "") -> Case:
    return Case(route, {pointer: value}, pointer, "UNKNOWN_NAME", says)


def bad(route: str, pointer: str, *values: Any) -> list[Case]:
    return [Case(route, {pointer: value}, pointer) for value in values]


def sensor_aim(yaw_deg: float, **placement: Any) -> dict[str, Any]:
    return {"/vehicle/sensors/side/yaw_deg": yaw_deg, "/placement/aim_line": "sensor:side"} | {
        f"/placement/{name}/datum": datum for name, datum in placement.items()
    }


LENGTHS = [f"/placement/{name}/distance_mm" for name in ("along", "lateral", "height")]
LENGTHS += [f"/vehicle/sensors/front/{name}" for name in ("x_mm", "y_mm", "z_mm")]
LENGTHS += ["/bay_pose/x_mm", "/bay_pose/y_mm"]
ANGLES = [f"/placement/{name}" for name in ("yaw_deg", "pitch_deg", "roll_deg")]
ANGLES += ["/vehicle/thrust_yaw_deg", "/vehicle/sensors/side/yaw_deg", "/bay_pose/heading_deg"]

CASES = [
    # A VIN has 17 characters and never I, O or Q (49 CFR 565.13, ISO 3779).
    *bad(IDENTIFY, "/vin", "", VIN[:16], VIN + "1", "X" * 41, "x", VIN.replace("1", "I", 1)),
    *bad(IDENTIFY, "/vin", VIN.replace("2", "O", 1), VIN.replace("2", "Q", 1), VIN.replace("2", "ß", 1)),
    *bad(IDENTIFY, "/vin", VIN.replace("2", "\x00", 1), VIN.replace("2", "\u0662", 1), "𝟏" * 17),
    *bad(IDENTIFY, "/make", "", "x" * 121, "a\x00b"),
    *bad(IDENTIFY, "/model_year", 1949, 2101, -1, 10**30, 2023.5, 1e300),
    *bad(IDENTIFY, "/market", "eu", "E", "EUROPE", "Europe", ""),
    *bad(IDENTIFY, "/drive_side", "Left", "middle", ""),
    *bad(IDENTIFY, "/build_codes/0", "", "x" * 21),
    *bad(IDENTIFY, "/build_codes", ["K59"] * 201),
    *bad(IDENTIFY, "/answers/option:corner_radars", "x" * 121),
    *bad(IDENTIFY, "/answers/option:corner_radars", "perhaps", "Yes", "true"),
    *bad(IDENTIFY, "/answers", {f"q{number}": "yes" for number in range(201)}),
    Case(IDENTIFY, {"/vin": GONE, "/make": GONE}, "/vin", "MISSING_FIELD", "make"),
    Case(IDENTIFY, {"/vin": None, "/make": None}, "/vin", "MISSING_FIELD", "make"),
    *bad(MATCH, "/capability", "", "Two circles", "-x", "x" * 81),
    *bad(MATCH, "/radar/frequency_ghz", 0, -77, 1001, 1e300),
    *bad(MATCH, "/radar/min_rcs_dbsm", -61, 81),
    Case(MATCH, {"/capability": GONE, "/radar": GONE}, "/capability", "MISSING_FIELD"),
    named(SETUPS, "/vehicle_id", "mirandeux-celadine-1923-eu", "GET /v1/vehicles"),
    named(SETUPS, "/procedure_id", "radar-reflektor", "'radar-reflector'"),
    named(SETUPS, "/measured/vehicle.wheelbase", 2800, "'vehicle.wheelbase_mm'"),
    named(SETUPS, "/measured/wheelbase_mm", 2800),
    named(SETUPS, "/measured/vehicle.sensors.front_camera.w_mm", 1),
    named(SETUPS, "/measured/vehicle.sensors.warp.x_mm", 1),
    named(SETUPS, "/measured/placement.along.distance_mm", 1),
    named(SETUPS, "/measured/", 1),
    named(SETUPS, "/measured/a~1b~0c", 1),
    named(SETUPS, "/standard_uncertainty/vehicle.weight_kg", 1),
    named(SETUPS, "/standard_uncertainty/vehicle.sensors.warp.x_mm", 1),
    named(SETUPS, "/placements/reflektor", {}, "'reflector'"),
    named(SETUPS, "/placements/reflector/fixture_id", "reflector-trihedral-11", "'reflector-trihedral-110'"),
    named(SETUPS, "/placements/reflector/carrier_id", "stand-rader", "'stand-radar'"),
    *bad(SETUPS, "/placements/reflector/fixture_id", "board-two-circle", "stand-radar"),
    *bad(SETUPS, "/placements/reflector/carrier_id", "reflector-trihedral-110"),
    *bad(SETUPS, "/placements/reflector/along_distance_mm", 1699, 0, -1700, 1_000_001),
    *bad(SETUPS, "/vehicle_id", "", "../etc/passwd", "x" * 81, "MIRANDEUX"),
    *bad(SETUPS, "/measured/vehicle.wheelbase_mm", 0, -2800, 1_000_001, 1e300, 10**400),
    *bad(SETUPS, "/measured/vehicle.front_overhang_mm", -1),
    *bad(SETUPS, "/measured/vehicle.thrust_yaw_deg", 361, -361, 5000),
    *bad(SETUPS, "/measured/vehicle.sensors.front_radar.yaw_deg", 361),
    *bad(SETUPS, "/standard_uncertainty/vehicle.thrust_yaw_deg", -0.1, 1e7, 361),
    *bad(SETUPS, "/bay_pose/x_mm", KILOMETRE_MM + 1, -KILOMETRE_MM - 1, 1e300),
    *bad(SETUPS, "/bay_pose/heading_deg", 361),
    named(PLACEMENT, "/placement/aim_line", "sensor:warp", "'sensor:front'"),
    named(PLACEMENT, "/placement/along/datum", "sensor:warp", "'sensor:front'"),
    named(PLACEMENT, "/placement/lateral/datum", "sensor:warp"),
    named(PLACEMENT, "/placement/height/datum", "sensor:warp"),
    named(PLACEMENT, "/standard_uncertainty/vehicle.weight_kg", 1),
    named(PLACEMENT, "/standard_uncertainty/vehicle.sensors.warp.x_mm", 1),
    *bad(PLACEMENT, "/placement/aim_line", "", "center line", "sensor:", "front_bumper", "centreline "),
    *bad(PLACEMENT, "/placement/along/datum", "", "aim_line", "wheel:middle_left", "FRONT_BUMPER", "floor"),
    *bad(PLACEMENT, "/placement/lateral/datum", "front_bumper", "thrust_line", "floor", "wheel:front"),
    *bad(PLACEMENT, "/placement/height/datum", "ceiling", "wheel:front_left", "Floor"),
    *(case for name in ("wheelbase_mm", "front_track_mm", "rear_track_mm", "width_mm")
      for case in bad(PLACEMENT, f"/vehicle/{name}", 0, -1, -2800, KILOMETRE_MM + 1, 1e300)),
    *(case for name in ("front_overhang_mm", "rear_overhang_mm")
      for case in bad(PLACEMENT, f"/vehicle/{name}", -1, KILOMETRE_MM + 1)),
    *(case for at in LENGTHS
      for case in bad(PLACEMENT, at, KILOMETRE_MM + 1, -KILOMETRE_MM - 1, 1e300, 10**400)),
    *(case for at in ANGLES for case in bad(PLACEMENT, at, 360.001, -361, 1e6)),
    *bad(PLACEMENT, "/standard_uncertainty/vehicle.wheelbase_mm", -1, KILOMETRE_MM + 1),
    *bad(PLACEMENT, "/standard_uncertainty/placement.yaw_deg", 361),
    *bad(PLACEMENT, "/standard_uncertainty", {f"n{number}": 1 for number in range(201)}),
    # Two lines that are parallel, or nearly so, do not cross in a point; |det| < 0.05 is 2.87 degrees.
    *(Case(PLACEMENT, sensor_aim(yaw, lateral="aim_line"), "/placement/along/datum", NO_POINT, "front_bumper")
      for yaw in (90, -90, 270, 87.2, 92.8, -92.8)),
    *(Case(PLACEMENT, sensor_aim(yaw, along=along, lateral="centreline"), "/placement/lateral/datum",
           NO_POINT, "'centreline'")
      for yaw in (90, -90, 87.2) for along in ("sensor:side", "wheel:front_left")),
    Case(PLACEMENT, {"/vehicle/thrust_yaw_deg": 90, "/placement/aim_line": "thrust_line"},
         "/placement/along/datum", NO_POINT, "'thrust_line'"),
    *(named(REFLECTOR, "/shape", shape, "plate") for shape in ("sphere", "Plate", "")),
    *bad(REFLECTOR, "/frequency_ghz", 0, -77, 1001, 1e300),
    *bad(REFLECTOR, "/width_mm", 0, -100, KILOMETRE_MM + 1, None),
    *bad(REFLECTOR, "/height_mm", 0, -100, None),
    *bad(REFLECTOR, "/leg_mm", 100),  # a dihedral has none
    Case(REFLECTOR, {"/shape": "trihedral_square", "/width_mm": GONE, "/height_mm": GONE}, "/leg_mm"),
    *bad(AIM, "/allowed_yaw_deg", 0, -1, 90, 91, 1e300),
    *bad(AIM, "/allowed_elevation_deg", 0, -1, 90, 91),
    *bad(AIM, "/nominal/x_mm", KILOMETRE_MM + 1, -KILOMETRE_MM - 1),
    *bad(AIM, "/sensor/yaw_deg", 361),
    # PostgreSQL stores no null character, and on SQLite the same is refused.
    *bad(KEYS, "/holder", "", " ", "x" * 121, "\x00", "Front\x00desk"),
    *bad(KEYS, "/scopes", [], ["read"] * 8),
    *bad(KEYS, "/valid_days", 0, -1, 36501, 1.5),
    Case(AIM, {"/nominal": {"x_mm": 0, "y_mm": 0, "z_mm": 900}}, "", says="straight above or below"),
]  # fmt: skip


def ids(case: Case) -> str:
    return f"{case.route.rpartition('/')[2]}{case.pointer}={next(iter(case.changes.values()))!r}"[:100]


@pytest.mark.parametrize("case", CASES, ids=ids)
def test_what_cannot_be_is_a_problem_that_points_at_it(http: httpx.Client, case: Case) -> None:
    body = json.dumps(spoiled(GOOD[case.route], case.changes))
    problem = problem_of(http, http.post(case.route, content=body), 422)
    assert {(fault["pointer"], fault["code"]) for fault in problem["errors"]} == {(case.pointer, case.code)}
    assert case.says in problem["errors"][0]["detail"]
    if case.code not in ("INVALID_VALUE", "MISSING_FIELD"):
        assert problem["code"] == case.code


def test_just_inside_the_limits_is_answered(http: httpx.Client) -> None:
    far = dict.fromkeys(LENGTHS, KILOMETRE_MM) | dict.fromkeys(ANGLES, 360)
    far |= {"/vehicle/wheelbase_mm": KILOMETRE_MM, "/vehicle/front_overhang_mm": 0}
    answer = http.post(PLACEMENT, json=spoiled(GOOD[PLACEMENT], far))
    assert answer.status_code == 200
    assert answer.json()["in_vehicle"]["x_mm"] == pytest.approx(2 * KILOMETRE_MM)
    # |cos 87.1 degrees| is 0.0506, just above the limit of 0.05.
    for yaw in (87.1, 92.9, -87.1):
        body = spoiled(GOOD[PLACEMENT], sensor_aim(yaw, lateral="aim_line"))
        assert http.post(PLACEMENT, json=body).status_code == 200
    # A side-looking line fixes a point with a sensor or a wheel, at any angle.
    body = spoiled(GOOD[PLACEMENT], sensor_aim(90, along="wheel:front_left", lateral="wheel:front_left"))
    assert http.post(PLACEMENT, json=body).json()["in_vehicle"]["y_mm"] == pytest.approx(780 + 1500)


def test_a_whole_number_may_be_written_with_a_decimal_point(http: httpx.Client) -> None:
    # To JSON Schema, and so by the published contract, 2023.0 is an integer (draft 2020-12, 4.2.1).
    answers = [
        http.post(IDENTIFY, json={"make": "Mirandeux", "model_year": y}).json() for y in (2023, 2023.0)
    ]
    assert answers[0] == answers[1]
    assert answers[0]["candidates_total"] > 0


def test_a_measured_angle_under_which_the_datums_fix_no_point_is_a_problem(http: httpx.Client) -> None:
    body = spoiled(GOOD[SETUPS], {"/measured/vehicle.thrust_yaw_deg": 90})
    problem = problem_of(http, http.post(SETUPS, json=body), 422)
    assert problem["code"] == NO_POINT
    assert [fault["pointer"] for fault in problem["errors"]] == ["/measured"]
    assert "'front_bumper'" in problem["detail"]


def test_a_wish_about_a_carrier_where_there_is_none_is_a_problem(http: httpx.Client) -> None:
    body = {
        "vehicle_id": "quellovane-lirra-2016-eu",
        "procedure_id": "camera-board",
        "placements": {"board": {"carrier_id": "stand-board"}},
    }
    problem = problem_of(http, http.post(SETUPS, json=body), 422)
    assert [fault["pointer"] for fault in problem["errors"]] == ["/placements/board/carrier_id"]


def test_a_procedure_without_fixtures_takes_no_unknown_inputs_either(http: httpx.Client) -> None:
    body = {"vehicle_id": "kadoruma-numira-2021-au", "procedure_id": "steering-angle-zero"}
    assert http.post(SETUPS, json=body).status_code == 200
    for field, name in (("measured", "vehicle.weight_kg"), ("standard_uncertainty", "vehicle.weight_kg")):
        problem = problem_of(http, http.post(SETUPS, json={**body, field: {name: 1}}), 422)
        assert [fault["pointer"] for fault in problem["errors"]] == [f"/{field}/{name}"]


def test_a_vin_is_not_repeated_in_the_problem_about_it(http: httpx.Client) -> None:
    for wrong in (VIN[:16], VIN + "1", VIN.replace("2", "Q"), VIN + "X" * 30):
        answer = http.post(IDENTIFY, json={"vin": wrong})
        problem_of(http, answer, 422)
        assert wrong not in answer.text
        assert VIN[9:] not in answer.text
