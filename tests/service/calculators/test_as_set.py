"""POST /v1/geometry/as-set over HTTP: the frozen names, what may be left out, and what is refused."""

import asyncio
from collections.abc import Callable
from math import hypot
from typing import Any

import httpx
import msgspec
import pytest

from running import Service
from snapline import AsyncSnapline, Snapline
from snapline.wire.as_set import AsSetRequest
from snapline_service.examples import BODIES

Json = dict[str, Any]
Calculate = Callable[[str, Json], Json]

# Two marks behind and one beside a board with two feet, in whole millimetres; the lengths are by Pythagoras.
MARKS = {"left": (0, 1200), "right": (0, -1200), "side": (3000, 2500)}
FEET = ((0, 500), (0, -500))


def body_of(x_mm: float = 3000.0, y_mm: float = 0.0, **changes: Any) -> Json:
    observations = [
        {"mark": mark, "foot": foot, "u_mm": 0.5, "distance_mm": hypot(x_mm - mx, y_mm + fy - my)}
        for mark, (mx, my) in MARKS.items()
        for foot, (_, fy) in enumerate(FEET)
    ]
    return {
        "marks": {name: {"x_mm": x, "y_mm": y, "u_mm": 0.4} for name, (x, y) in MARKS.items()},
        "feet": [{"x_mm": x, "y_mm": y} for x, y in FEET],
        "observations": observations,
        "nominal": {"x_mm": 3000, "y_mm": 0, "yaw_deg": 0, "height_mm": 1200},
        "measured_height_mm": 1201.0,
        "u_height_mm": 1.0,
        "tolerance": {"x_mm": 5, "y_mm": 3, "yaw_deg": 0.3, "height_mm": 5},
        "sensor": {"x_mm": 0, "y_mm": 0, "z_mm": 1200},
        "range_mm": 100000,
        "alpha": 0.05,
        "alpha_outlier": 0.001,
        **changes,
    }


def test_the_answer_has_the_documented_fields_in_the_requests_order(calculate: Calculate) -> None:
    sent = body_of()
    answer = calculate("as-set", sent)
    assert set(answer) == {
        *("pose", "u", "covariance", "chi2", "observations", "verdicts"),
        *("joint_probability", "aim", "outcome", "advice", "cautions"),
    }
    assert answer["outcome"] == "conforms"
    assert set(answer["chi2"]) == {"value", "dof", "critical", "passed"}
    assert (answer["chi2"]["dof"], answer["chi2"]["passed"]) == (3, True)
    pairs = [(one["mark"], one["foot"]) for one in answer["observations"]]
    assert pairs == [(one["mark"], one["foot"]) for one in sent["observations"]]
    assert set(answer["observations"][0]) == {"mark", "foot", "residual_mm", "w", "mdb_mm", "suspect"}
    for row, axis in enumerate(("x_mm", "y_mm", "yaw_deg")):
        assert answer["covariance"][row][row] == pytest.approx(answer["u"][axis] ** 2)
        assert answer["verdicts"][axis]["verdict"] == "conforms"
    # A millimetre too high at 3 m: one thousandth of a radian over three.
    assert answer["aim"]["elevation_error_deg"] == pytest.approx(0.0190986, abs=1e-6)
    assert [caution["code"] for caution in answer["cautions"]][:1] == ["MAKER_GOVERNS"]


def test_a_degree_at_a_hundred_metres(calculate: Calculate) -> None:
    # 52.365 mm to the left at 3 m is 1 degree, and 1 degree at 100 m is 1.745506 m.
    answer = calculate("as-set", body_of(y_mm=52.36519))
    assert answer["aim"]["yaw_error_deg"] == pytest.approx(1.0, abs=1e-4)
    assert answer["aim"]["lateral_miss_mm"] == pytest.approx(1745.506, abs=0.2)
    assert answer["outcome"] == "does_not_conform"
    assert "Move the whole fixture: 52 mm to the car's right." in answer["advice"]


def test_what_may_be_left_out(calculate: Calculate) -> None:
    sent = body_of()
    for field in (
        "tolerance",
        "sensor",
        "u_height_mm",
        "measured_height_mm",
        "range_mm",
        "alpha",
        "alpha_outlier",
    ):
        del sent[field]
    answer = calculate("as-set", sent)
    empty = {"verdict": None, "probability": None}
    assert answer["verdicts"] == {"x_mm": empty, "y_mm": empty, "yaw_deg": empty, "height_mm": None}
    assert (answer["joint_probability"], answer["aim"], answer["outcome"]) == (None, None, "not_proven")
    nulls = sent | dict.fromkeys(("sensor", "u_height_mm", "measured_height_mm"))
    assert calculate("as-set", nulls) == answer


def test_without_a_measured_height_no_elevation_is_made_up(calculate: Calculate) -> None:
    answer = calculate("as-set", body_of(measured_height_mm=None))
    assert answer["aim"]["elevation_error_deg"] is None
    assert answer["verdicts"]["height_mm"] is None
    assert answer["aim"]["yaw_error_deg"] == pytest.approx(0, abs=1e-6)


def test_one_tape_a_metre_off_is_named(calculate: Calculate) -> None:
    sent = body_of()
    sent["observations"][4]["distance_mm"] += 1000
    answer = calculate("as-set", sent)
    assert answer["outcome"] == "measurements_disagree"
    assert [one["suspect"] for one in answer["observations"]] == [i == 4 for i in range(6)]
    assert "Measure side to foot 0 again: it does not fit the others." in answer["advice"]


def changed(path: str, value: Any) -> Json:
    body: Any = body_of()
    at = body
    *steps, last = path.split("/")[1:]
    for step in steps:
        at = at[int(step) if isinstance(at, list) else step]
    at[int(last) if isinstance(at, list) else last] = value
    return dict(body)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("/observations/1/distance_mm", -1),
        ("/observations/1/distance_mm", 1_000_001),
        ("/observations/1/u_mm", -0.1),
        ("/observations/1/foot", 2),
        ("/observations/1/foot", -1),
        ("/observations/1/foot", 0.5),
        ("/observations/1/mark", "nobody"),
        ("/marks/left/x_mm", 1_000_001),
        ("/marks/left/u_mm", -1),
        ("/nominal/yaw_deg", 360.5),
        ("/tolerance/x_mm", -1),
        ("/tolerance/yaw_deg", -1),
        ("/u_height_mm", -1),
        ("/range_mm", -5),
        ("/alpha", 0),
        ("/alpha", 1),
        ("/alpha_outlier", 1),
        ("/feet", []),
        ("/observations", []),
        ("/colour", "red"),
    ],
)
def test_what_cannot_be_is_refused_by_its_place(http: httpx.Client, path: str, value: Any) -> None:
    answer = http.post("/v1/geometry/as-set", json=changed(path, value))
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == [path]


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999"])
def test_a_number_that_is_not_finite_is_refused(http: httpx.Client, number: str) -> None:
    text = msgspec.json.encode(body_of()).decode().replace('"alpha":0.05', f'"alpha":{number}')
    answer = http.post("/v1/geometry/as-set", content=text, headers={"content-type": "application/json"})
    assert 400 <= answer.status_code < 500


def test_the_sdk_asks_the_same_both_ways(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service
    request: AsSetRequest = BODIES["compute_as_set"]
    with Snapline(service.url, key) as client:
        whole = client.geometry.as_set(request)
        fields = client.geometry.as_set(
            marks=request.marks,
            feet=request.feet,
            observations=request.observations,
            nominal=request.nominal,
            tolerance=request.tolerance,
        )

    async def ask() -> object:
        async with AsyncSnapline(service.url, key) as client:
            return await client.geometry.as_set(request)

    assert asyncio.run(ask()) == whole
    assert whole.outcome == "not_proven"
    assert fields.pose == whole.pose
    assert fields.aim is None
    assert any(sentence.startswith("Move foot 0: ") for sentence in whole.advice)
