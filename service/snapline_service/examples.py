"""One example for each operation: the contract shows them, and the tests send every one of them.

They are about the invented demo scenario.
"""

from typing import Any

import msgspec

from snapline import page_token
from snapline.wire.catalogue import RadarNeed
from snapline.wire.common import BayPose
from snapline.wire.fixtures import FixtureMatchRequest, FixtureQuery, FixtureVehicleQuery
from snapline.wire.geometry import (
    AimToleranceRequest,
    Along,
    Height,
    Lateral,
    Placement,
    PlacementRequest,
    ReflectorRequest,
    Sensor,
    SpacePoint,
    VehicleGeometry,
)
from snapline.wire.keys import KeyRequest
from snapline.wire.setups import SetupRequest
from snapline.wire.vehicles import IdentifyRequest, VehicleQuery

# By operation id.
BODIES: dict[str, Any] = {
    "identify_vehicle": IdentifyRequest(vin="S7MCE2D41P1402286", answers={"option:corner_radars": "yes"}),
    "issue_key": KeyRequest(holder="Front desk", scopes=("read", "plan"), valid_days=365),
    "match_fixtures": FixtureMatchRequest(radar=RadarNeed(frequency_ghz=76.5, min_rcs_dbsm=14)),
    "compute_setup": SetupRequest(
        vehicle_id="jorvantel-rhedgarn-2020-us",
        procedure_id="radar-reflector",
        measured={"vehicle.thrust_yaw_deg": 0.1},
        standard_uncertainty={"vehicle.thrust_yaw_deg": 0.02},
    ),
    "compute_placement": PlacementRequest(
        vehicle=VehicleGeometry(
            wheelbase_mm=2890,
            front_track_mm=1650,
            rear_track_mm=1655,
            front_overhang_mm=935,
            rear_overhang_mm=990,
            width_mm=1925,
            thrust_yaw_deg=0.1,
            sensors={"front_radar": Sensor(x_mm=3740, y_mm=0, z_mm=600)},
        ),
        placement=Placement(
            aim_line="thrust_line",
            along=Along(datum="front_bumper", distance_mm=2200),
            lateral=Lateral(datum="aim_line", distance_mm=0),
            height=Height(datum="sensor:front_radar", distance_mm=0),
            yaw_deg=180,
        ),
        bay_pose=BayPose(x_mm=4000, y_mm=2500, heading_deg=90),
        standard_uncertainty={"vehicle.wheelbase_mm": 2.0, "placement.along.distance_mm": 1.5},
    ),
    "compute_reflector": ReflectorRequest(shape="trihedral_triangular", frequency_ghz=77, leg_mm=150),
    "compute_aim_tolerance": AimToleranceRequest(
        sensor=Sensor(x_mm=2400, y_mm=0, z_mm=1290),
        nominal=SpacePoint(x_mm=5300, y_mm=0, z_mm=1200),
        allowed_yaw_deg=0.1,
        allowed_elevation_deg=0.1,
    ),
}

# By the name of a path parameter.
NAMES = {
    "vehicle_id": "mirandeux-celadine-2023-eu",
    "system_id": "rear-radars",
    "fixture_id": "reflector-trihedral-150",
    "key_id": "key_0191f3c26d3a7c1e9b574d1b8e0a5f10",
    "name": "datums-do-not-fix-a-point",
}

# Filters of the lists, which hold one by one and all together; a page token belongs to all of its filters.
_VEHICLES = VehicleQuery(
    make="Mirandeux",
    model="Celadine",
    model_year=2024,
    market="EU",
    system_kind="rear_corner_radar",
    q="mirand cel",
    page_size=20,
)
_FIXTURES = FixtureQuery(fixture_kind="corner_reflector", capability="front_radar_reflector", page_size=20)
_FIXTURE_VEHICLES = FixtureVehicleQuery(
    make="Mirandeux",
    model="Celadine",
    model_year=2024,
    system_kind="forward_radar",
    by_property=True,
    page_size=20,
)
# By operation id.
FILTERS: dict[str, dict[str, Any]] = {
    "list_vehicles": {
        **msgspec.to_builtins(_VEHICLES),
        "page_token": page_token.make(
            ["mirandeux", "celadine", 2022, "mirandeux-celadine-2022-eu"],
            msgspec.structs.replace(_VEHICLES, page_size=1),
        ),
    },
    "list_fixtures": {
        **msgspec.to_builtins(_FIXTURES),
        "page_token": page_token.make(
            ["reflector-trihedral-110"], msgspec.structs.replace(_FIXTURES, page_size=1)
        ),
    },
    "list_fixture_vehicles": {
        **msgspec.to_builtins(_FIXTURE_VEHICLES),
        "page_token": page_token.make(
            ["mirandeux", "celadine", 2022, "mirandeux-celadine-2022-eu"],
            [NAMES["fixture_id"], msgspec.structs.replace(_FIXTURE_VEHICLES, page_size=1)],
        ),
    },
}

# By code: what a problem says, how to mend it, where it points to, and the address that it is an answer of.
PROBLEMS = {
    "DATUMS_DO_NOT_FIX_A_POINT": (
        "aim_line 'sensor:left' with along datum 'rear_bumper' does not fix a point.",
        "Count along from a wheel or a sensor.",
        "/placement/along/datum",
        "/v1/geometry/placement",
    ),
    "INVALID_VALUE": (
        "The number is too small.",
        "Give more than 0.",
        "/vehicle/wheelbase_mm",
        "/v1/geometry/placement",
    ),
    "MISSING_DIMENSION": (
        "The vehicle's rear_track_mm is needed and not given.",
        "Give vehicle.rear_track_mm.",
        "/measured/vehicle.rear_track_mm",
        "/v1/setups",
    ),
    "NOT_FOUND": (
        "There is nothing called 'mirandeux-celadine-1923-eu' here.",
        "List what there is with GET /v1/vehicles.",
        "",
        "/v1/vehicles/mirandeux-celadine-1923-eu",
    ),
    "UNKNOWN_NAME": (
        "This vehicle has no 'sensor:front_rader'.",
        "Did you mean 'sensor:front_radar'?",
        "/placement/height/datum",
        "/v1/geometry/placement",
    ),
}
