"""The cautions, each with a stable code, and which work they belong to."""

from collections.abc import Iterable

from snapline.wire.catalogue import Procedure
from snapline.wire.common import Caution

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
        "Support the battery; chock the wheels, above all in a high-voltage vehicle's ready state; ventilate "
        "a running engine; keep clear of airbag and high-voltage parts."
    ),
    "TRIP_HAZARD": "Tapes, mats and stands trip people.",
    "CLEAR_ZONE": "Keep people out of the clear zone while a radar or laser sensor is active.",
    "LASER": "Never look into a laser.",
    "HEATED_GRID": "A heated grid burns and carries mains voltage.",
    "ROAD": (
        "On the road a licensed driver drives and a second person works the tool; obey traffic law; stop in "
        "unsuitable weather or traffic; respect the windscreen adhesive's safe drive-away time first."
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
        codes += ["ALIGNMENT_FIRST", "TRIP_HAZARD"]
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
