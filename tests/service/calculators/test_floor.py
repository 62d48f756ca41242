"""POST /v1/geometry/floor."""

import copy
from collections.abc import Callable
from typing import Any

import httpx
import pytest

Calculate = Callable[[str, dict[str, Any]], dict[str, Any]]
BODY: dict[str, Any] = {
    "wheels": {
        "front_left": {"x_mm": 2800, "y_mm": 750, "z_mm": 14, "rate": 1.0},
        "front_right": {"x_mm": 2800, "y_mm": -750, "z_mm": 14, "rate": 1.0},
        "rear_left": {"x_mm": 0, "y_mm": 750, "z_mm": 0, "rate": 1.0},
        "rear_right": {"x_mm": 0, "y_mm": -750, "z_mm": 0, "rate": 1.0},
    },
    "feet": [
        {"x_mm": 5400, "y_mm": 500, "z_mm": 0},
        {"x_mm": 5400, "y_mm": -500, "z_mm": 0},
        {"x_mm": 4800, "y_mm": 0, "z_mm": 0},
    ],
    "target": {"x_mm": 5115, "y_mm": 0, "z_mm": 1200},
    "u_z_mm": 0.5,
}
FROZEN = {
    "vehicle_pitch_deg",
    "vehicle_roll_deg",
    "target_in_room",
    "height_setting_mm",
    "height_error_if_ignored_mm",
    "slope_mm_per_m",
    "warp_mm",
    "flatness_mm",
    "u",
}


def without(body: dict[str, Any], wheel: str) -> dict[str, Any]:
    spoiled = copy.deepcopy(body)
    del spoiled["wheels"][wheel]
    return spoiled


def test_nose_up_on_a_slope_before_a_level_stand(calculate: Calculate) -> None:
    answer = calculate("floor", BODY)
    assert answer.keys() >= FROZEN
    assert answer["u"].keys() >= FROZEN - {"u"}
    # By hand: 14 mm over a wheelbase of 2,800 mm is 5 mm/m, which at about 5.1 m is 25.6 mm.
    assert answer["slope_mm_per_m"] == pytest.approx(5.0)
    assert answer["vehicle_pitch_deg"] == pytest.approx(-0.2864765103, abs=1e-9)
    assert answer["height_setting_mm"] == pytest.approx(1225.6, abs=0.05)
    assert answer["height_error_if_ignored_mm"] == pytest.approx(1200 - answer["height_setting_mm"])
    assert answer["target_in_room"]["z_mm"] == pytest.approx(answer["height_setting_mm"])
    # 1,200 mm lean backwards by 5 mm/m, and the level distance is hardly shorter.
    assert answer["horizontal_shift"] == {"x_mm": pytest.approx(-6.06, abs=0.01), "y_mm": pytest.approx(0)}
    assert answer["fixture_tilt"]["pitch_deg"] == pytest.approx(0.2864765103, abs=1e-9)
    assert (answer["din_18202"], answer["e1155m_lines"]) == (None, [])
    # One reading of 0.5 mm in four at the warp: a quarter of it stays as residual.
    assert answer["u"]["warp_mm"] == pytest.approx(0.25)


def test_staff_readings_count_downwards(calculate: Calculate) -> None:
    staff = copy.deepcopy(BODY)
    for point in (*staff["wheels"].values(), *staff["feet"]):
        point["z_mm"] = 1000 - point["z_mm"]
    read, heights = calculate("floor", staff | {"readings": "staff"}), calculate("floor", BODY)
    for figure in ("height_setting_mm", "vehicle_pitch_deg", "slope_mm_per_m", "flatness_mm"):
        assert read[figure] == pytest.approx(heights[figure], abs=1e-9)
    assert read["u"]["height_setting_mm"] == pytest.approx(heights["u"]["height_setting_mm"])


def test_without_uncertainty_and_rates_the_figures_are_the_same(calculate: Calculate) -> None:
    bare = copy.deepcopy(BODY)
    del bare["u_z_mm"]
    for wheel in bare["wheels"].values():
        del wheel["rate"]
    assert calculate("floor", bare) == calculate("floor", BODY) | {"u": None}


def test_published_limits_and_curvatures_come_when_they_are_asked_for(calculate: Calculate) -> None:
    # SLAC, SPEAR3 concrete test pad, May 2003: the first four elevations of line 0 and their curvatures.
    line = [418.617, 419.938, 421.894, 423.748]
    answer = calculate("floor", BODY | {"din_18202_row": 3, "e1155m_lines_mm": [line]})
    (found,) = answer["e1155m_lines"]
    assert found["curvatures_mm"] == pytest.approx([0.635, -0.102], abs=0.002)
    din = answer["din_18202"]
    assert (din["row"], din["met"], len(din["pairs"])) == (3, False, 21)
    assert not din["pairs"][0]["met"]
    assert {name for pair in din["pairs"] for name in pair["points"]} == {
        *BODY["wheels"],
        "foot 1",
        "foot 2",
        "foot 3",
    }
    assert max(pair["deviation_mm"] for pair in din["pairs"]) == pytest.approx(answer["flatness_mm"])


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        (without(BODY, "rear_left"), "/wheels/rear_left", "MISSING_FIELD"),
        (BODY | {"feet": []}, "/feet", "INVALID_VALUE"),
        (BODY | {"u_z_mm": -1}, "/u_z_mm", "INVALID_VALUE"),
        (BODY | {"readings": "rod"}, "/readings", "INVALID_VALUE"),
        (BODY | {"din_18202_row": 5}, "/din_18202_row", "INVALID_VALUE"),
        (BODY | {"e1155m_lines_mm": [[1.0, 2.0]]}, "/e1155m_lines_mm/0", "INVALID_VALUE"),
        (BODY | {"target": {"x_mm": 1e7, "y_mm": 0, "z_mm": 0}}, "/target/x_mm", "INVALID_VALUE"),
        (BODY | {"feet": BODY["feet"] + BODY["feet"][:1]}, "/feet/3", "INVALID_VALUE"),
        (BODY | {"slab": 1}, "/slab", "UNKNOWN_FIELD"),
    ],
)
def test_what_cannot_be_is_a_problem_with_its_mend(
    http: httpx.Client, body: dict[str, Any], pointer: str, code: str
) -> None:
    answer = http.post("/v1/geometry/floor", json=body)
    assert answer.status_code == 422
    faults = answer.json()["errors"]
    assert {(fault["pointer"], fault["code"]) for fault in faults} == {(pointer, code)}
    assert all(fault["mend"] for fault in faults)


@pytest.mark.parametrize(
    ("field", "value"), [("rate", 0), ("rate", -2), ("rate", 5000), ("z_mm", 900), ("x_mm", -9)]
)
def test_a_wheel_that_cannot_be_is_a_problem(http: httpx.Client, field: str, value: float) -> None:
    body = copy.deepcopy(BODY)
    body["wheels"]["front_left"][field] = value
    answer = http.post("/v1/geometry/floor", json=body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"].startswith("/wheels")
