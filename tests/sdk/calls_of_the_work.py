"""What the SDK's methods for calculators and visits send."""

from collections.abc import Callable
from typing import Any

import msgspec

from snapline.wire.floor import FloorContact, FloorContacts, LevelledPoint
from snapline.wire.geometry import SpacePoint
from snapline.wire.scope import RepairLine
from snapline.wire.visits import VisitPatch, VisitRequest
from snapline_service import examples

Contract = tuple[str, str, Callable[[Any], Any], Any]

CONTACT = FloorContact(x_mm=0.0, y_mm=800.0, z_mm=1.0)
WHEELS = FloorContacts(front_left=CONTACT, front_right=CONTACT, rear_left=CONTACT, rear_right=CONTACT)
FOOT = LevelledPoint(x_mm=5000.0, y_mm=0.0, z_mm=2.0)
TARGET = SpacePoint(x_mm=5000.0, y_mm=0.0, z_mm=1200.0)
SETTING_OUT = examples.BODIES["compute_setting_out"]
BAY_FIT = examples.BODIES["compute_bay_fit"]
VISIT = VisitRequest(vehicle_id="v", operations=(RepairLine(operation="windscreen"),), date="2027-01-04")


def sent(value: object) -> Any:
    """Return a value as it travels."""
    return msgspec.json.decode(msgspec.json.encode(value))


GEOMETRY: list[Contract] = [
    (
        "POST",
        "/v1/geometry/floor",
        lambda client: client.geometry.floor(wheels=WHEELS, feet=[FOOT], target=TARGET, u_z_mm=0.5),
        {"wheels": sent(WHEELS), "feet": [sent(FOOT)], "target": sent(TARGET), "u_z_mm": 0.5},
    ),
    (
        "POST",
        "/v1/geometry/drive-window",
        lambda client: client.geometry.drive_window(
            latitude_deg=52.0,
            longitude_deg=11.0,
            time_zone="Europe/Berlin",
            date="2027-01-04",
            min_sun_elevation_deg=5.0,
        ),
        {
            "latitude_deg": 52.0,
            "longitude_deg": 11.0,
            "time_zone": "Europe/Berlin",
            "date": "2027-01-04",
            "min_sun_elevation_deg": 5.0,
        },
    ),
    (
        "POST",
        "/v1/geometry/setting-out",
        lambda client: client.geometry.setting_out(SETTING_OUT),
        sent(SETTING_OUT),
    ),
    ("POST", "/v1/geometry/bay-fit", lambda client: client.geometry.bay_fit(BAY_FIT), sent(BAY_FIT)),
]
VISITS: list[Contract] = [
    ("POST", "/v1/visits/plan", lambda client: client.visits.plan(VISIT), sent(VISIT)),
    ("POST", "/v1/visits/plan", lambda client: client.visits.sheet_html(VISIT), sent(VISIT)),
    ("POST", "/v1/visits/plan", lambda client: client.visits.sheet_pdf(VISIT), sent(VISIT)),
    (
        "POST",
        "/v1/visits",
        lambda client: client.visits.keep(VISIT, site="one", reference="Job 7"),
        {"request": sent(VISIT), "site": "one", "reference": "Job 7"},
    ),
    ("GET", "/v1/visits", lambda client: client.visits.list(state="planned"), {"state": "planned"}),
    ("GET", "/v1/visits/w", lambda client: client.visits.get("w"), {}),
    (
        "PATCH",
        "/v1/visits/w",
        lambda client: client.visits.update("w", VisitPatch(state="closed"), etag='"t"'),
        {"state": "closed"},
    ),
    ("POST", "/v1/visits/w/replan", lambda client: client.visits.replan("w"), None),
]
CALLS = GEOMETRY + VISITS
