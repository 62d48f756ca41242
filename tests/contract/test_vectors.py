"""The test vectors for other languages: current, satisfied over HTTP, and taken by the SDK's wire types."""

import json
import re
from datetime import datetime
from typing import Any

import httpx
import msgspec
import pytest

from contract.api import OPERATIONS, Operation, faults
from contract.vectors.write import FOLDER, files
from snapline.wire.as_set import AsSetRequest
from snapline.wire.bay_fit import BayFitRequest
from snapline.wire.drive_window import DriveWindowRequest
from snapline.wire.floor import FloorRequest
from snapline.wire.geometry import AimToleranceRequest, PlacementRequest, ReflectorRequest
from snapline.wire.setting_out import SettingOutRequest

Json = dict[str, Any]
MADE = files()
FILES: dict[str, Json] = {name: json.loads(text) for name, text in MADE.items()}
CASES = [(file["operation"], case) for file in FILES.values() for case in file["cases"]]
TYPES = {
    "POST /v1/geometry/placement": PlacementRequest,
    "POST /v1/geometry/reflector": ReflectorRequest,
    "POST /v1/geometry/aim-tolerance": AimToleranceRequest,
    "POST /v1/geometry/as-set": AsSetRequest,
    "POST /v1/geometry/bay-fit": BayFitRequest,
    "POST /v1/geometry/setting-out": SettingOutRequest,
    "POST /v1/geometry/drive-window": DriveWindowRequest,
    "POST /v1/geometry/floor": FloorRequest,
}
every_case = pytest.mark.parametrize(
    ("operation", "case"),
    CASES,
    ids=[f"{called.rpartition('/')[2]}: {case['name']}" for called, case in CASES],
)


@pytest.mark.parametrize("name", sorted(MADE))
def test_the_committed_vectors_are_current(name: str) -> None:
    committed = (FOLDER / name).read_text()
    assert committed == MADE[name], "run: PYTHONPATH=tests python -m contract.vectors.write"


def test_there_are_enough_and_no_name_stands_twice() -> None:
    names = {name: [case["name"] for case in file["cases"]] for name, file in FILES.items()}
    assert {name: len(found) == len(set(found)) for name, found in names.items()} == dict.fromkeys(
        names, True
    )
    assert len(names["placement.json"]) >= 30
    assert len(names["reflector.json"]) >= 12
    assert len(names["aim-tolerance.json"]) >= 10
    assert len(names["as-set.json"]) >= 20


def test_every_datum_and_aim_line_of_the_contract_occurs_in_a_case_that_is_answered() -> None:
    placements = [
        case["request"]["placement"]
        for case in FILES["placement.json"]["cases"]
        if case["expect"]["status"] == 200
    ]
    wheels = {f"wheel:{end}_{side}" for end in ("front", "rear") for side in ("left", "right")}
    bumpers = {f"{end}_{part}" for end in ("front", "rear") for part in ("bumper", "axle")}

    def used(axis: str) -> set[str]:
        return {re.sub("sensor:.*", "sensor", placement[axis]["datum"]) for placement in placements}

    assert used("along") == wheels | bumpers | {"sensor"}
    assert used("lateral") == wheels | {"aim_line", "centreline", "sensor"}
    assert used("height") == {"floor", "sensor"}
    aims = {re.sub("sensor:.*", "sensor", placement["aim_line"]) for placement in placements}
    assert aims == {"centreline", "thrust_line", "sensor"}


def operation_of(called: str) -> Operation:
    return next(o for o in OPERATIONS.values() if f"{o.method.upper()} {o.path}" == called)


@every_case
def test_the_service_satisfies_every_vector(operation: str, case: Json, http: httpx.Client) -> None:
    method, _, path = operation.partition(" ")
    answer = http.request(method, path, json=case["request"])
    expect, given = case["expect"], answer.json()
    assert answer.status_code == expect["status"], given
    if answer.status_code != 200:
        found = [{"pointer": e["pointer"], "code": e["code"]} for e in given["errors"]]
        assert (given["code"], found) == (expect["code"], expect["errors"])
        return
    for name, value in expect["body"].items():
        assert_near(value, given[name], name, case["tolerance"])


def assert_near(expected: Any, given: Any, name: str, tolerance: Json) -> None:
    """Compare as the file's own description says."""
    if isinstance(expected, dict):
        assert expected.keys() <= given.keys()
        for field, value in expected.items():
            assert_near(value, given[field], field, tolerance)
    elif isinstance(expected, list):
        assert len(expected) == len(given)
        for value, other in zip(expected, given, strict=True):
            assert_near(value, other, name, tolerance)
    elif isinstance(expected, float):
        unit = name.rpartition("_")[2]
        off = given - expected
        if unit == "deg":
            off = (off + 180.0) % 360.0 - 180.0
        assert abs(off) <= tolerance[unit], name
    elif name in ("start", "end"):
        times = [datetime.fromisoformat(time) for time in (expected, given)]
        assert times[0].utcoffset() == times[1].utcoffset(), name
        assert abs((times[1] - times[0]).total_seconds()) <= tolerance["s"], name
    else:
        assert given == expected, name


@every_case
def test_the_sdk_takes_a_request_exactly_if_the_document_does(operation: str, case: Json) -> None:
    body = operation_of(operation).body
    assert body is not None
    # A reader passes over what it does not know, so an unknown field alone is no reason to refuse.
    known = [
        fault for fault in faults(case["request"], body["schema"]) if "Additional properties" not in fault
    ]
    if not known:
        msgspec.convert(case["request"], TYPES[operation])
        return
    assert case["expect"]["status"] == 422
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(case["request"], TYPES[operation])
