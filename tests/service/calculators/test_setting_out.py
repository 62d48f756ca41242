"""POST /v1/geometry/setting-out as any program that speaks HTTP calls it, and the SDK."""

import asyncio
from collections.abc import Callable
from math import sqrt
from typing import Any

import httpx
import msgspec
import pytest

from running import Service
from snapline import AsyncSnapline, Snapline
from snapline.wire.setting_out import FloorMark, FloorPoint, PointTolerance, SettingOutRequest, Tape

Calculate = Callable[[str, dict[str, Any]], dict[str, Any]]
FRONT = {
    "front left": {"x_mm": 2810, "y_mm": 945, "u_mm": 1.5},
    "front right": {"x_mm": 2810, "y_mm": -945, "u_mm": 1.5},
    "front bumper": {"x_mm": 3680, "y_mm": 0, "u_mm": 2},
}
BODY: dict[str, Any] = {
    "marks": FRONT,
    "target": {"x_mm": 5200, "y_mm": 520},
    "critical_direction": [1, 0],
    "tolerance": {"critical_mm": 5, "other_mm": 10},
    "blockers": [],
    "tape": {"class": "II", "length_mm": 10000},
    "min_sin_angle": 0.3,
}


def test_the_answer_has_the_fields_of_the_contract(calculate: Calculate) -> None:
    answer = calculate("setting-out", BODY)
    assert set(answer) == {
        "feasible",
        "distances",
        "check",
        "u_critical_mm",
        "u_position_mm",
        "sin_angle",
        "ranking",
        "reasons",
        "cautions",
    }
    assert answer["feasible"] is True
    assert answer["reasons"] == []
    for distance in answer["distances"]:
        assert set(distance) == {"mark", "distance_mm", "tolerance_worst_mm", "tolerance_95_mm"}
    assert set(answer["check"]) == {"mark", "distance_mm", "u_mm"}
    assert [one["mark"] for one in answer["distances"]] == answer["ranking"][0]["marks"]
    assert set(answer["ranking"][0]) == {"marks", "u_critical_mm", "u_position_mm"}
    assert {"blockers", "min_sin_angle"} & set(BODY)
    short = {name: part for name, part in BODY.items() if name not in ("blockers", "min_sin_angle")}
    assert calculate("setting-out", short) == answer


def test_two_tapes_in_closed_form(calculate: Calculate) -> None:
    # (-0.78, 0), (0.78, 0), (0, 3) m: s_x = 2.810062 s, s_y = 0.730616 s. At 3.1 m a tape of class II has
    # 1.1 mm of permissible error: s is 1.1 / sqrt(3) with 0.5 mm of reading.
    marks = {"a": {"x_mm": -780, "y_mm": 0, "u_mm": 0}, "b": {"x_mm": 780, "y_mm": 0, "u_mm": 0}}
    answer = calculate("setting-out", BODY | {"marks": marks, "target": {"x_mm": 0, "y_mm": 3000}})
    sd = sqrt(1.1**2 / 3 + 0.25)
    assert answer["u_critical_mm"] == pytest.approx(2.810062 * sd, rel=1e-6)
    assert answer["u_position_mm"] == pytest.approx(sd * sqrt(2.810062**2 + 0.730616**2), rel=1e-6)
    assert answer["check"] is None


def test_without_a_pair_it_answers_with_reasons_and_no_figures(calculate: Calculate) -> None:
    answer = calculate("setting-out", BODY | {"marks": {"front left": FRONT["front left"]}})
    assert answer["feasible"] is False
    assert "front left" in answer["reasons"][0]
    assert (answer["distances"], answer["check"], answer["ranking"]) == ([], None, [])


@pytest.mark.parametrize(
    ("part", "pointer"),
    [
        ({"tape": {"class": "II", "length_mm": 0}}, "/tape/length_mm"),
        ({"tape": {"length_mm": 5000}}, "/tape/class"),
        ({"critical_direction": [0, 0]}, "/critical_direction"),
        ({"critical_direction": [1]}, "/critical_direction"),
        ({"blockers": [[[0, 0]]]}, "/blockers/0"),
        ({"blockers": [[[0, 0], [9, 9], [9, 0], [0, 9]]]}, "/blockers/0"),
        ({"marks": {"a": {"x_mm": 0, "y_mm": 0, "u_mm": -1}}}, "/marks/a/u_mm"),
        ({"marks": {"a": {"x_mm": 2e6, "y_mm": 0, "u_mm": 1}}}, "/marks/a/x_mm"),
        ({"tolerance": {"critical_mm": 5}}, "/tolerance/other_mm"),
        ({"min_sin_angle": 1.5}, "/min_sin_angle"),
        ({"targets": []}, "/targets"),
    ],
)
def test_what_cannot_be_is_a_problem_that_points_to_it(
    http: httpx.Client, part: dict[str, Any], pointer: str
) -> None:
    answer = http.post("/v1/geometry/setting-out", json=BODY | part)
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["errors"]] == [pointer]


def test_the_sdk_asks_the_same_in_both_ways(demo_service: tuple[Service, str], calculate: Calculate) -> None:
    service, key = demo_service
    fields = {
        "marks": {name: msgspec.convert(mark, FloorMark) for name, mark in FRONT.items()},
        "target": FloorPoint(x_mm=5200, y_mm=520),
        "critical_direction": (1.0, 0.0),
        "tolerance": PointTolerance(critical_mm=5, other_mm=10),
        "tape": Tape(class_="II", length_mm=10_000),
    }
    request = SettingOutRequest(**fields)  # type: ignore[arg-type]

    async def ask() -> Any:
        async with AsyncSnapline(service.url, key) as client:
            return await client.geometry.setting_out(request)

    with Snapline(service.url, key) as client:
        found = client.geometry.setting_out(request)
    assert asyncio.run(ask()) == found
    assert list(msgspec.to_builtins(found)["distances"]) == calculate("setting-out", BODY)["distances"]
