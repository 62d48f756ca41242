"""A good body for every operation that takes one, ways to spoil it, and what every problem must say."""

import copy
import re
from typing import Any
from urllib.parse import unquote

import httpx

from contract.api import OPERATIONS, resolved

Json = Any

CAR: Json = {
    "wheelbase_mm": 2800,
    "front_track_mm": 1560,
    "rear_track_mm": 1580,
    "front_overhang_mm": 870,
    "rear_overhang_mm": 960,
    "width_mm": 1840,
    "thrust_yaw_deg": 0.1,
    "sensors": {
        "front": {"x_mm": 3600, "y_mm": 0, "z_mm": 450, "yaw_deg": 0, "pitch_deg": 0},
        "side": {"x_mm": 2100, "y_mm": 900, "z_mm": 1000, "yaw_deg": 90, "pitch_deg": 0},
    },
}
GOOD: dict[str, Json] = {
    "/v1/vehicles/identify": {
        "vin": "S7MCE2D41P1402286",
        "make": "Mirandeux",
        "model": "Celadine",
        "model_year": 2023,
        "market": "EU",
        "drive_side": "left",
        "build_codes": ["K59"],
        "answers": {"option:corner_radars": "yes"},
    },
    "/v1/fixtures/match": {
        "capability": "two_circle_pattern",
        "radar": {"frequency_ghz": 77, "min_rcs_dbsm": 10, "max_rcs_dbsm": 20},
    },
    "/v1/setups": {
        "vehicle_id": "mirandeux-celadine-2023-eu",
        "procedure_id": "radar-reflector",
        "measured": {"vehicle.thrust_yaw_deg": 0.1},
        "standard_uncertainty": {"vehicle.thrust_yaw_deg": 0.02},
        "placements": {
            "reflector": {
                "fixture_id": "reflector-trihedral-110",
                "carrier_id": "stand-radar",
                "along_distance_mm": 1700,
            }
        },
        "bay_pose": {"x_mm": 1000, "y_mm": 2000, "heading_deg": 90},
        "by_property": False,
        "drawn_stage": "reflector",
    },
    "/v1/geometry/placement": {
        "vehicle": CAR,
        "placement": {
            "aim_line": "centreline",
            "along": {"datum": "front_bumper", "distance_mm": 1500},
            "lateral": {"datum": "centreline", "distance_mm": 0},
            "height": {"datum": "floor", "distance_mm": 1200},
            "yaw_deg": 180,
            "pitch_deg": 0,
            "roll_deg": 0,
        },
        "bay_pose": {"x_mm": 1000, "y_mm": 2000, "heading_deg": 90},
        "standard_uncertainty": {"vehicle.wheelbase_mm": 2, "placement.along.distance_mm": 1.5},
    },
    "/v1/geometry/reflector": {
        "shape": "dihedral",
        "frequency_ghz": 77,
        "width_mm": 100,
        "height_mm": 100,
    },
    "/v1/geometry/aim-tolerance": {
        "sensor": {"x_mm": 0, "y_mm": 0, "z_mm": 500, "yaw_deg": 0, "pitch_deg": 0},
        "nominal": {"x_mm": 2000, "y_mm": 0, "z_mm": 500},
        "allowed_yaw_deg": 0.5,
        "allowed_elevation_deg": 0.5,
    },
    # The one operation here that writes: tried as far as it goes, and nothing kept.
    "/v1/keys?validate_only=true": {"holder": "Front desk", "scopes": ["read", "plan"], "valid_days": 365},
}
REQUIRED: dict[str, list[str]] = {
    "/v1/vehicles/identify": [],
    "/v1/fixtures/match": ["/radar/frequency_ghz", "/radar/min_rcs_dbsm"],
    "/v1/setups": [
        "/vehicle_id",
        "/procedure_id",
        "/bay_pose/x_mm",
        "/bay_pose/y_mm",
        "/bay_pose/heading_deg",
    ],
    "/v1/geometry/placement": [
        "/vehicle",
        *(f"/vehicle/{name}" for name in CAR if name not in ("thrust_yaw_deg", "sensors")),
        "/vehicle/sensors/front/x_mm",
        "/vehicle/sensors/side/z_mm",
        "/placement",
        "/placement/aim_line",
        *(f"/placement/{name}{part}" for name in ("along", "lateral", "height") for part in ("", "/datum")),
        "/placement/lateral/distance_mm",
        "/bay_pose/heading_deg",
    ],
    "/v1/geometry/reflector": ["/shape", "/frequency_ghz"],
    "/v1/geometry/aim-tolerance": [
        "/sensor",
        "/sensor/x_mm",
        "/nominal",
        "/nominal/z_mm",
        "/allowed_yaw_deg",
    ],
    "/v1/keys?validate_only=true": ["/holder"],
}
# What has no body above is tried with the example of the contract: everything that is computed and not kept.
for operation in OPERATIONS.values():
    keeps = any(parameter["name"] == "Idempotency-Key" for parameter in operation.parameters)
    if operation.media == "application/json" and not keeps and operation.body and operation.path not in GOOD:
        GOOD[operation.path] = dict(operation.body["example"])
        required = resolved(operation.body["schema"]).get("required", ())
        REQUIRED[operation.path] = [f"/{name}" for name in required]
GOOD["/v1/visits/plan"]["minutes"] = {"intake": 12}  # its example has no number
# Objects whose names are the caller's own, so that no name is unknown by its form alone.
OWN_NAMES = (
    "/answers", "/heights", "/marks", "/measured", "/options", "/placements", "/standard_uncertainty",
    "/vehicle/sensors",
)  # fmt: skip
GONE = object()


def steps_of(pointer: str) -> list[str]:
    return [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]


def spoiled(body: Json, changes: dict[str, Json]) -> Json:
    """Return a copy in which each pointer's value is replaced, added or (GONE) taken away."""
    answer = copy.deepcopy(body)
    for pointer, value in changes.items():
        if not pointer:
            return value
        place: Any = answer
        *way, last = steps_of(pointer)
        for step in way:
            place = place[int(step) if isinstance(place, list) else step]
        key: Any = int(last) if isinstance(place, list) else last
        if value is GONE:
            del place[key]
        else:
            place[key] = value
    return answer


def places_in(body: Json, pointer: str = "") -> list[tuple[str, Json]]:
    """Return every value of a body with its pointer."""
    found = [(pointer, body)]
    inner = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    for step, value in inner:
        found += places_in(value, f"{pointer}/{str(step).replace('~', '~0').replace('/', '~1')}")
    return found


def problem_of(http: httpx.Client, answer: httpx.Response, status: int | None = None) -> Json:
    """Check what every problem must say (RFC 9457 and the contract) and return it."""
    assert 400 <= answer.status_code < 500, answer.text
    assert status is None or answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["status"] == answer.status_code
    assert re.fullmatch("[A-Z]+(_[A-Z]+)*", problem["code"])
    assert problem["title"]
    assert problem["detail"]
    assert problem["request_id"] == answer.headers["x-request-id"]
    assert problem["retryable"] is False
    assert unquote(problem["instance"]) == answer.request.url.path
    assert problem["errors"]
    for fault in problem["errors"]:
        assert set(fault) == {"pointer", "code", "detail", "mend"}
        assert re.fullmatch(r"(/([^~/]|~[01])*)*", fault["pointer"])  # RFC 6901, section 3
        # What is wrong, and then how to mend it.
        wrong, _, rest = fault["detail"].rpartition(fault["mend"])
        assert fault["mend"]
        assert rest == ""
        assert wrong.endswith((". ", "… ")), fault["detail"]
    explained = _explained.get(problem["type"]) or http.get(problem["type"]).raise_for_status().json()
    assert explained["code"] == problem["code"]
    assert explained["meaning"]
    _explained[problem["type"]] = explained
    return problem


_explained: dict[str, Json] = {}
