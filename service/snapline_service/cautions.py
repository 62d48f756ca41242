"""The cautions, each with a stable code, and which work they belong to."""

from collections.abc import Iterable

from snapline.wire.catalogue import Procedure
from snapline.wire.common import Caution

CAR_STAYS = "CAR_STAYS"
_TEXTS = {
    "MAKER_GOVERNS": (
        "Follow the vehicle maker's current instructions and local law; qualified people only. This is a "
        "working aid and not a release of the vehicle."
    ),
    "FUNCTIONS_MAY_FAIL": (
        "Driver-assistance functions may be absent or wrong until calibration is complete and verified: tell "
        "the customer and tag the vehicle."
    ),
    "ALIGNMENT_FIRST": "Wheels and thrust line must be in specification before aiming.",
    "SECURE_VEHICLE": (
        "Support the battery; brake and chock the wheels, above all in a high-voltage vehicle's ready state; "
        "ventilate a running engine; keep clear of fans, airbag and high-voltage parts."
    ),
    CAR_STAYS: (
        "Bringing the car in: a second person guides; the bay is clear of people. Once marks are made the "
        "car must not move and nobody may get in or lean on it; if it moves, make the marks again."
    ),
    "TRIP_HAZARD": (
        "Tapes, cables, mats and stands trip people; two people lift what is heavy; leave no stand free to "
        "roll or fall."
    ),
    "CLEAR_ZONE": (
        "Keep people and loose metal out of the clear zone while a radar or laser sensor is active."
    ),
    "LASER": "Never look into a laser, and send its beam at no person and no mirror.",
    "HEATED_GRID": (
        "A heated grid burns and carries mains voltage: unplug it before moving it; hold it by its handles."
    ),
    "ROAD": (
        "A licensed driver drives and a second person works the tool; traffic law comes before the speed "
        "asked for; rely on no assistance function; stop in unsuitable weather or traffic; in a yard keep "
        "people away; respect the windscreen adhesive's safe drive-away time first."
    ),
    "OUR_ARITHMETIC": (
        "A match by property is our arithmetic and not the maker's approval: not named by the source."
    ),
}
_CLEAR_ZONE_KINDS = {"forward_radar", "front_corner_radar", "rear_corner_radar", "laser_scanner"}


def for_work(
    procedures: Iterable[Procedure],
    system_kinds: Iterable[str],
    fixture_kinds: Iterable[str],
    *,
    by_property: bool = False,
) -> tuple[Caution, ...]:
    """Return the cautions of work that uses these procedures, systems and fixtures."""
    methods = {procedure.method for procedure in procedures}
    fixtures = set(fixture_kinds)
    codes = ["MAKER_GOVERNS", "FUNCTIONS_MAY_FAIL"]
    if methods:
        codes.append("SECURE_VEHICLE")
    if "static" in methods:
        codes += ["ALIGNMENT_FIRST", CAR_STAYS, "TRIP_HAZARD"]
    if _CLEAR_ZONE_KINDS.intersection(system_kinds):
        codes.append("CLEAR_ZONE")
    if "laser" in fixtures or "laser_scanner" in system_kinds:
        codes.append("LASER")
    if "heated_grid" in fixtures:
        codes.append("HEATED_GRID")
    if "dynamic" in methods:
        codes.append("ROAD")
    if by_property:
        codes.append("OUR_ARITHMETIC")
    return tuple(Caution(code=code, text=_TEXTS[code]) for code in codes)
