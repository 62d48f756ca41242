"""One example for each operation: the contract shows them, and the tests send every one of them.

They are about the invented demo scenario.
"""

from typing import Any

import msgspec

from snapline import page_token
from snapline.wire.as_set import AsSetObservation, AsSetRequest, AsSetTolerance, NominalPose
from snapline.wire.bay_fit import BayFitRequest, FitBay, FitDoor, FitPart, FitProcedure
from snapline.wire.catalogue import (
    Dimensions,
    FixtureDocument,
    OperationDocument,
    RadarNeed,
    SourceDocument,
    VehicleDocument,
)
from snapline.wire.changes import AuditQuery, ChangeQuery
from snapline.wire.common import BayPose
from snapline.wire.drafts import (
    Acknowledgement,
    ConflictChoice,
    DraftChangeQuery,
    DraftPatch,
    DraftQuery,
    DraftRequest,
    RemarkRequest,
    SubmitRequest,
)
from snapline.wire.drive_window import DriveWindowRequest
from snapline.wire.fixtures import FixtureMatchRequest, FixtureQuery, FixtureVehicleQuery
from snapline.wire.floor import FloorContact, FloorContacts, FloorRequest, LevelledPoint
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
from snapline.wire.notes import NotePatch, NoteQuery, NoteRequest
from snapline.wire.revisions import RestoreRequest, RevisionQuery
from snapline.wire.scope import RepairLine
from snapline.wire.setting_out import FloorMark, FloorPoint, PointTolerance, SettingOutRequest, Tape
from snapline.wire.setups import SetupRequest
from snapline.wire.sites import (
    AssetPatch,
    AssetQuery,
    Bay,
    BayPatch,
    Door,
    FloorSurveyPatch,
    Obstacle,
    Site,
    SiteAsset,
    SitePatch,
    SiteQuery,
)
from snapline.wire.vehicles import IdentifyRequest, VehicleQuery
from snapline.wire.verification import MeasuredDistance, MeasuredHeight, VerifyRequest
from snapline.wire.visits import KeepVisit, VisitPatch, VisitQuery, VisitRequest
from snapline.wire.webhooks import (
    DeliveryQuery,
    ReplayRequest,
    RotateRequest,
    WebhookPatch,
    WebhookRequest,
)
from snapline_service.listing import bound_to

_BAY = Bay(
    id="quarry-one",
    name="Bay behind the roller door (invented)",
    surface="floor",
    ring=((0, 0), (14200, 0), (14200, 7000), (0, 7000)),
    headings_deg=(0, 180),
    obstacles=(
        Obstacle(
            name="duct", polygon=((6000, 6500), (9000, 6500), (9000, 7000), (6000, 7000)), z_min_mm=2300
        ),
    ),
    doors=(Door(name="roller door", start=(0, 5200), end=(0, 1800)),),
    ceiling_mm=4200,
    light_min_lux=350,
    light_max_lux=800,
)

_VISIT = VisitRequest(
    vehicle_id="mirandeux-celadine-2023-eu",
    operations=(
        RepairLine(operation="windshield", extent="replaced"),
        RepairLine(operation="rear bumper cover", extent="removed_and_refitted"),
    ),
    date="2027-06-15",
    options={"corner_radars": "yes"},
)

# By operation id.
BODIES: dict[str, Any] = {
    "create_draft": DraftRequest(note="The board stands 50 mm farther ahead in issue 3."),
    "update_draft": DraftPatch(note="The board stands 50 mm farther ahead in issue 4."),
    "settle_conflict": ConflictChoice(take="published"),
    "submit_draft": SubmitRequest(
        text="Compared with issue 3, section 4.",
        acknowledgements=(
            Acknowledgement(finding="9f1c2e7a40b3d865", reason="The source gives no tolerance here."),
        ),
    ),
    "comment_on_draft": RemarkRequest(text="Is this distance from the bumper or from the axle?"),
    "send_draft_back": RemarkRequest(text="Section 4 gives 2,450 mm, not 2,540 mm."),
    "put_draft_source": SourceDocument(
        format=1,
        id="quarry-manual",
        title="Board and stand volume (invented)",
        edition="issue 3",
        published_on="2026-02-16",
        invented=True,
    ),
    "put_draft_operation": OperationDocument(
        format=1,
        id="wing-mirror-folded",
        name="Wing mirror folded by force",
        synonyms=("mirror knocked",),
        invented=True,
    ),
    "put_draft_fixture": FixtureDocument(
        format=1,
        id="board-quarry",
        name="Board of the quarry lane (invented)",
        fixture_kind="board",
        reference_point="pattern centre",
        invented=True,
    ),
    "put_draft_vehicle": VehicleDocument(
        format=1,
        id="mirandeux-quarrel-2026-eu",
        make="Mirandeux",
        model="Quarrel",
        body="estate",
        markets=("EU",),
        drive_side="left",
        model_year_first=2026,
        dimensions=Dimensions(wheelbase_mm=2710),
        invented=True,
    ),
    "update_draft_source": {"edition": "issue 4"},
    "update_draft_operation": {"synonyms": ["mirror knocked", "mirror hit"]},
    "update_draft_fixture": {"mass_kg": 14.5},
    "update_draft_vehicle": {"dimensions": {"width_mm": 1842}, "thrust_limit_deg": None},
    "restore_revision": RestoreRequest(note="The correction was of another model year."),
    "create_note": NoteRequest(
        vehicle_id="mirandeux-celadine-2023-eu",
        site="mill-road",
        prefers_bay="mill-long",
        text="Use the long bay: the board stands clear of the lift there.",
    ),
    "update_note": NotePatch(text="Use the long bay, and shut its door first.", prefers_bay=None),
    "create_webhook": WebhookRequest(
        url="https://hooks.example.com/snapline",
        types=("catalogue.published", "visit"),
        description="The shop program at Mill Road",
    ),
    "update_webhook": WebhookPatch(state="paused", description=None),
    "rotate_webhook": RotateRequest(overlap_hours=48),
    "replay_webhook": ReplayRequest(after=0),
    "create_site": Site(
        id="quarry-lane",
        name="Wendelbrook Quarry Lane (invented)",
        time_zone="Europe/Berlin",
        latitude_deg=51.4,
        longitude_deg=12.1,
        invented=True,
    ),
    "update_site": SitePatch(latitude_deg=52.1, longitude_deg=11.6),
    "create_bay": _BAY,
    "replace_bay": msgspec.structs.replace(_BAY, id="mill-long"),
    "update_bay": BayPatch(light_min_lux=400, floor=FloorSurveyPatch(u_z_mm=0.4)),
    "create_asset": SiteAsset(
        id="mill-board-bars-2",
        site="mill-road",
        fixture="board-bars",
        serial="MR-025",
        condition="in_service",
    ),
    "update_asset": AssetPatch(condition="in_service", checked_until="2030-06-30"),
    "identify_vehicle": IdentifyRequest(vin="S7MCE2D41P1402286", answers={"option:corner_radars": "yes"}),
    "issue_key": KeyRequest(holder="Front desk", scopes=("read", "plan"), valid_days=365),
    "match_fixtures": FixtureMatchRequest(radar=RadarNeed(frequency_ghz=76.5, min_rcs_dbsm=14)),
    "compute_setup": SetupRequest(
        vehicle_id="jorvantel-rhedgarn-2020-us",
        procedure_id="radar-reflector",
        measured={"vehicle.thrust_yaw_deg": 0.1},
        standard_uncertainty={"vehicle.thrust_yaw_deg": 0.02},
    ),
    "verify_setup": VerifyRequest(
        vehicle_id="mirandeux-celadine-2023-eu",
        procedure_id="radar-reflector",
        measured={"vehicle.thrust_yaw_deg": 0.0},
        distances=tuple(
            MeasuredDistance(placement="reflector", point=point, mark=mark, distance_mm=distance_mm)
            for point, mark, distance_mm in (
                ("below the apex", "left side mark ahead", 1514),
                ("below the apex", "right side mark ahead", 1511),
                ("front left", "left side mark ahead", 1596),
                ("front left", "right side mark ahead", 1113),
                ("front right", "left side mark ahead", 1116),
                ("front right", "right side mark ahead", 1592),
            )
        ),
        heights={"reflector": MeasuredHeight(height_mm=561, u_mm=1)},
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
    "plan_visit": _VISIT,
    "plan_visits": (_VISIT, msgspec.structs.replace(_VISIT, date="2027-06-16")),
    "keep_visit": KeepVisit(request=_VISIT, site="mill-road", reference="Job 1042"),
    "update_visit": VisitPatch(state="in_work"),
    "compute_reflector": ReflectorRequest(shape="trihedral_triangular", frequency_ghz=77, leg_mm=150),
    "compute_setting_out": SettingOutRequest(
        marks={
            "front left wheel": FloorMark(x_mm=2810, y_mm=945, u_mm=1.5),
            "front right wheel": FloorMark(x_mm=2810, y_mm=-945, u_mm=1.5),
            "front bumper": FloorMark(x_mm=3680, y_mm=0, u_mm=2.0),
            "right side mark": FloorMark(x_mm=4310, y_mm=-940, u_mm=2.5),
        },
        target=FloorPoint(x_mm=5200, y_mm=-520),
        critical_direction=(1, 0),
        tolerance=PointTolerance(critical_mm=5, other_mm=10),
        blockers=(((-150, -900), (2960, -900), (2960, 900), (-150, 900)),),
        tape=Tape(class_="II", length_mm=10000),
    ),
    "compute_as_set": AsSetRequest(
        marks={
            "front left wheel": FloorMark(x_mm=2810, y_mm=945, u_mm=1.5),
            "front right wheel": FloorMark(x_mm=2810, y_mm=-945, u_mm=1.5),
            "left of the board": FloorMark(x_mm=5300, y_mm=2400, u_mm=1.0),
        },
        feet=(FloorPoint(x_mm=280, y_mm=520), FloorPoint(x_mm=280, y_mm=-520)),
        observations=tuple(
            AsSetObservation(mark=mark, foot=foot, distance_mm=distance_mm, u_mm=0.8)
            for mark, foot, distance_mm in (
                ("front left wheel", 0, 2817),
                ("front left wheel", 1, 2434),
                ("front right wheel", 0, 2439),
                ("front right wheel", 1, 2805),
                ("left of the board", 0, 2927),
                ("left of the board", 1, 1887),
            )
        ),
        nominal=NominalPose(x_mm=5480, y_mm=0, yaw_deg=180, height_mm=1200),
        measured_height_mm=1201,
        u_height_mm=1,
        tolerance=AsSetTolerance(x_mm=10, y_mm=5, yaw_deg=0.4, height_mm=5),
        sensor=SpacePoint(x_mm=2400, y_mm=0, z_mm=1290),
    ),
    "compute_aim_tolerance": AimToleranceRequest(
        sensor=Sensor(x_mm=2400, y_mm=0, z_mm=1290),
        nominal=SpacePoint(x_mm=5300, y_mm=0, z_mm=1200),
        allowed_yaw_deg=0.1,
        allowed_elevation_deg=0.1,
    ),
    "compute_floor": FloorRequest(
        wheels=FloorContacts(
            front_left=FloorContact(x_mm=2890, y_mm=825, z_mm=14.5, rate=32),
            front_right=FloorContact(x_mm=2890, y_mm=-825, z_mm=11.0, rate=32),
            rear_left=FloorContact(x_mm=0, y_mm=825, z_mm=1.5, rate=28),
            rear_right=FloorContact(x_mm=0, y_mm=-825, z_mm=0.0, rate=28),
        ),
        feet=(
            LevelledPoint(x_mm=5420, y_mm=600, z_mm=18.0),
            LevelledPoint(x_mm=5420, y_mm=-600, z_mm=16.5),
            LevelledPoint(x_mm=6120, y_mm=0, z_mm=20.0),
        ),
        target=SpacePoint(x_mm=5740, y_mm=0, z_mm=1200),
        u_z_mm=0.5,
        din_18202_row=3,
        e1155m_lines_mm=((0.0, 1.3, 3.3, 5.1, 6.6, 6.1),),
    ),
    "compute_bay_fit": BayFitRequest(
        bay=FitBay(
            ring=((0, 0), (11000, 0), (11000, 6000), (0, 6000)),
            obstacles=(((5000, 5400), (5400, 5400), (5400, 5800), (5000, 5800)),),
            doors=(FitDoor(start=(0, 4500), end=(0, 1500), open=True),),
        ),
        headings_deg=(0, 180),
        procedures=(
            FitProcedure(
                name="front camera",
                parts=(
                    FitPart(
                        name="car",
                        kind="solid",
                        polygon=((-990, -962), (3825, -962), (3825, 962), (-990, 962)),
                    ),
                    FitPart(
                        name="board",
                        kind="solid",
                        polygon=((6100, -700), (6500, -700), (6500, 700), (6100, 700)),
                    ),
                ),
            ),
        ),
    ),
    "compute_drive_window": DriveWindowRequest(
        latitude_deg=52.1,
        longitude_deg=11.6,
        time_zone="Europe/Berlin",
        date="2027-03-28",
        min_sun_elevation_deg=5,
        road_heading_deg=105,
        dazzle_cone_deg=25,
        dazzle_max_elevation_deg=20,
    ),
}

# By operation id: the text of a file that is sent.
UPLOADS = {"import_spreadsheet": "fixture_id,mass_kg\r\nboard-bars,19.5\r\n"}

# By the name of a path parameter.
NAMES = {
    "draft_id": "dft_0191f3c26d3a7c1e9b574d1b8e0a5f10",
    "operation_id": "windscreen",
    "source_id": "brennhavik-2017",
    "number": "1",
    "other": "2",
    "file_name": "revision-1.sqlite",
    "note_id": "note_0191f3c26d3a7c1e9b574d1b8e0a5f10",
    "vehicle_id": "mirandeux-celadine-2023-eu",
    "revision": "current",
    "system_id": "rear-radars",
    "fixture_id": "reflector-trihedral-150",
    "site_id": "mill-road",
    "bay_id": "mill-long",
    "asset_id": "mill-board-two-circle",
    "visit_id": "vis_0191f3c26d3a7c1e9b574d1b8e0a5f10",
    "webhook_id": "whk_0191f3c26d3a7c1e9b574d1b8e0a5f10",
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
_SITES = SiteQuery(page_size=2)
_VISITS = VisitQuery(
    date="2027-06-16", site="mill-road", state="planned", asset="mill-board-two-circle", page_size=20
)
_ASSETS = AssetQuery(site="mill-road", fixture="board-side", condition="in_service", page_size=1)
_DRAFTS = DraftQuery(state="published", page_size=20)
_CHANGES = DraftChangeQuery(page_size=20)
_REVISIONS = RevisionQuery(page_size=20)
_NOTES = NoteQuery(
    vehicle_id="mirandeux-celadine-2023-eu", procedure_id="camera-board", site="mill-road", page_size=20
)
_AUDIT = AuditQuery(type="key", holder="demo", since="2026-01-01", until="2126-01-01", page_size=20)
_DELIVERIES = DeliveryQuery(state="pending", page_size=20)
# By operation id.
FILTERS: dict[str, dict[str, Any]] = {
    "list_drafts": {
        **msgspec.to_builtins(_DRAFTS),
        "page_token": page_token.make(["dft_ffff"], bound_to(_DRAFTS)),
    },
    "list_draft_changes": {
        **msgspec.to_builtins(_CHANGES),
        "page_token": page_token.make(["fixture", "board-bars"], bound_to(_CHANGES)),
    },
    "list_revisions": {
        **msgspec.to_builtins(_REVISIONS),
        "page_token": page_token.make([3], bound_to(_REVISIONS)),
    },
    "list_changes": msgspec.to_builtins(ChangeQuery(after=1, limit=20)),
    "list_audit": {
        **msgspec.to_builtins(_AUDIT),
        "page_token": page_token.make([9000], bound_to(_AUDIT)),
    },
    "list_deliveries": {
        **msgspec.to_builtins(_DELIVERIES),
        "page_token": page_token.make([9000], bound_to(_DELIVERIES)),
    },
    "list_notes": {
        **msgspec.to_builtins(_NOTES),
        "page_token": page_token.make(["note_0"], bound_to(_NOTES)),
    },
    "export_spreadsheet": {"format": "csv", "sheet": "fixtures"},
    "import_spreadsheet": {
        "base_revision": 1,
        "sheet": "fixtures",
        "delimiter": "comma",
        "decimal": "point",
        "encoding": "utf-8",
        "units": "mm",
        "note": "weighed again",
    },
    "list_vehicles": {
        **msgspec.to_builtins(_VEHICLES),
        "page_token": page_token.make(
            ["mirandeux", "celadine", 2022, "mirandeux-celadine-2022-eu"],
            msgspec.structs.replace(_VEHICLES, page_size=1),
        ),
    },
    "list_visits": {
        **msgspec.to_builtins(_VISITS),
        "page_token": page_token.make(["vis_" + "0" * 32], bound_to(_VISITS)),
    },
    "list_sites": {
        **msgspec.to_builtins(_SITES),
        "page_token": page_token.make(["copper-street"], bound_to(_SITES)),
    },
    "list_assets": {
        **msgspec.to_builtins(_ASSETS),
        "page_token": page_token.make(["mill-board-side-1"], bound_to(_ASSETS)),
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
