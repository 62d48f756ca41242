"""Correct the heights of a setup for the floor that vehicle and fixtures stand on."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

import msgspec
import numpy as np

from snapline.wire.floor import FloorTilt
from snapline.wire.setup_floor import FixtureOnFloor, SetupFloor, VehicleOnFloor, WheelReadings
from snapline.wire.setups import PlacedFixture, SetupRequest, SetupStage
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.geometry import Point, Position, VehicleGeometry, wheel_centres
from snapline_service.geometry.floor import FloorFigures, on_floor
from snapline_service.geometry.floor_points import WHEELS, Contact
from snapline_service.geometry.floor_survey import FloorHeights, FloorSurvey
from snapline_service.geometry.input_words import spoken
from snapline_service.setups import wording
from snapline_service.setups.standing import is_set_out
from snapline_service.setups.translation import bay_pose_of
from snapline_service.sheets.lengths import Units

FLAT = "The floor is taken to be flat: read its height at the tyres and at the fixture's feet, and give it."
EVEN_BETWEEN = "Between its surveyed points the floor is taken to be even."
_UNSEEN_DEG = 0.05

Read = Callable[[Mapping[str, Point]], FloorHeights]


class Floored(NamedTuple):
    """A setup's stages on its floor, how the vehicle stands there, and what was taken for granted."""

    stages: tuple[SetupStage, ...]
    vehicle: VehicleOnFloor | None
    assumed: tuple[str, ...]


def corrected(request: SetupRequest, vehicle: VehicleGeometry, stages: tuple[SetupStage, ...]) -> Floored:
    """Return the stages with the height to set for each fixture, where the floor is known.

    A fixture whose floor is not known keeps its nominal height and says why. Raises InvalidValue, UnknownName
    and MissingDimension for what the vehicle itself stands on.
    """
    floor = request.floor
    if floor is None or not stages:
        stands_on_it = any(is_set_out(item) for stage in stages for item in stage.placements)
        return Floored(stages, None, (FLAT,) if stands_on_it else ())
    try:
        read = _by_survey(floor, request) if floor.survey is not None else _by_readings(floor, stages)
        wheels = {_tyre(name): wheel_centres(vehicle)[f"wheel:{name}"] for name in WHEELS}
        contacts = _contacts(floor.wheels, wheels, read(wheels))
        # The vehicle's figures are the same whatever stands before it.
        stance, _ = on_floor(
            contacts, [Position(0.0, 0.0, contacts["rear_left"].z_mm)], Position(0.0, 0.0, 0.0)
        )
    except InvalidValue as error:
        raise InvalidValue(str(error), pointer=_at(error.pointer, floor), mend=error.mend) from None
    units: Units = "mm" if request.units == "mm" else "in"

    def on_its_floor(item: PlacedFixture) -> PlacedFixture:
        found = _fixture(item, floor.wheels, wheels, read, units)
        return msgspec.structs.replace(item, floor=found)

    floored = tuple(
        msgspec.structs.replace(stage, placements=tuple(on_its_floor(item) for item in stage.placements))
        for stage in stages
    )
    standing = msgspec.convert(stance, VehicleOnFloor, from_attributes=True)
    return Floored(floored, standing, () if floor.survey is None else (EVEN_BETWEEN,))


def _fixture(
    item: PlacedFixture, readings: WheelReadings | None, wheels: Mapping[str, Point], read: Read, units: Units
) -> FixtureOnFloor:
    """Return a fixture's figures, or why there are none."""
    if not item.feet:
        return FixtureOnFloor(statement="Its feet are not known: its height is not corrected for the floor.")
    feet = {_foot(item.id, foot.name): (foot.x_mm, foot.y_mm) for foot in item.feet}
    pose = item.in_vehicle
    try:
        heights = read({**wheels, **feet})
        contacts = _contacts(readings, wheels, heights)
        ground = heights.z_mm[len(WHEELS) :]
        stand = [Position(*point, float(z)) for point, z in zip(feet.values(), ground, strict=True)]
        value, u = on_floor(
            contacts, stand, Position(pose.x_mm, pose.y_mm, pose.z_mm), heights.covariance_mm2
        )
    except InvalidValue as error:
        return FixtureOnFloor(statement=f"Its height is not corrected for the floor. {error} {error.mend}")
    return FixtureOnFloor(
        height_setting_mm=value.height_setting_mm,
        u_height_setting_mm=u.height_setting_mm if u else None,
        height_error_if_ignored_mm=value.height_error_if_ignored_mm,
        floor_tilt=msgspec.convert(value.fixture_tilt, FloorTilt | None, from_attributes=True),
        statement=_statement(item, value, units),
    )


def _statement(item: PlacedFixture, value: FloorFigures, units: Units) -> str:
    what = item.fixture.reference_point if item.fixture else "reference point"
    where = "above" if value.height_setting_mm >= 0.0 else "below"
    height = wording.length(value.height_setting_mm, units)
    text = f"Set the {what} {height} {where} the floor at its feet, plumb"
    off_mm = value.height_error_if_ignored_mm
    more = "less" if off_mm > 0.0 else "more"
    text += f": {wording.length(off_mm, units)} {more} than on a flat floor."
    tilt = value.fixture_tilt
    if tilt is not None and tilt.angle_deg >= _UNSEEN_DEG:
        text += f" The floor there leans {tilt.angle_deg:.1f}° against the vehicle's."
    return text


def _contacts(
    readings: WheelReadings | None, wheels: Mapping[str, Point], heights: FloorHeights
) -> dict[str, Contact]:
    rates = {name: getattr(readings, name).rate if readings else 1.0 for name in WHEELS}
    return {
        name: Contact(*wheels[_tyre(name)], float(z_mm), rates[name])
        for name, z_mm in zip(WHEELS, heights.z_mm, strict=False)
    }


def _by_survey(floor: SetupFloor, request: SetupRequest) -> Read:
    """Return heights of a surveyed bay. Raises InvalidValue."""
    bay_pose = bay_pose_of(request.bay_pose)
    if floor.wheels is not None or floor.feet:
        mend = "Give the survey, or the readings at tyres and feet."
        raise InvalidValue("The floor is given twice.", pointer="", mend=mend)
    if bay_pose is None:
        mend = "Give bay_pose: where the vehicle's origin stands in the bay, and its heading."
        raise InvalidValue("A survey needs to know where the car stands.", pointer="/bay_pose", mend=mend)
    upwards = _upwards(floor)
    points = [Position(point.x_mm, point.y_mm, upwards * point.z_mm) for point in floor.survey or ()]
    survey = FloorSurvey(points, floor.u_z_mm)
    return lambda places: survey.floor_correction(bay_pose, places)


def _by_readings(floor: SetupFloor, stages: tuple[SetupStage, ...]) -> Read:
    """Return heights that were read at the places themselves. Raises InvalidValue, UnknownName."""
    if floor.wheels is None:
        mend = "Give wheels with feet, or a survey."
        raise InvalidValue("The floor under the tyres is not given.", pointer="/wheels", mend=mend)
    _require_known(floor, stages)
    upwards = _upwards(floor)
    readings = {_tyre(name): getattr(floor.wheels, name).z_mm for name in WHEELS}
    readings |= {_foot(item, name): z_mm for item, feet in floor.feet.items() for name, z_mm in feet.items()}

    def read(places: Mapping[str, Point]) -> FloorHeights:
        for name in places:
            if name not in readings:
                detail = f"There is no reading at {name}."
                raise InvalidValue(detail, pointer="/feet", mend="Read it with the same level.")
        heights = np.array([upwards * readings[name] for name in places])
        return FloorHeights(heights, floor.u_z_mm**2 * np.eye(len(places)))

    return read


def _require_known(floor: SetupFloor, stages: tuple[SetupStage, ...]) -> None:
    known = {item.id: [foot.name for foot in item.feet] for stage in stages for item in stage.placements}
    for placement, feet in floor.feet.items():
        if placement not in known:
            detail = f"This procedure has no placement '{placement}'."
            at = pointer(["floor", "feet", placement])
            raise UnknownName(detail, pointer=at, mend=nearest(placement, list(known)))
        for name in feet:
            if name not in known[placement]:
                detail = f"What stands at '{placement}' has no foot '{name}'."
                at = pointer(["floor", "feet", placement, name])
                raise UnknownName(detail, pointer=at, mend=nearest(name, known[placement]))


def _at(at: str, floor: SetupFloor) -> str:
    """Return where in the request a fault of the geometry's own values comes from."""
    if at == "/bay_pose":
        return at
    return "/floor/survey" if floor.survey is not None and at.startswith("/wheels") else f"/floor{at}"


def _upwards(floor: SetupFloor) -> float:
    return 1.0 if floor.readings == "height" else -1.0


def _tyre(name: str) -> str:
    return f"the {spoken(name)} tyre"


def _foot(placement: str, name: str) -> str:
    return f"the {name} foot of {spoken(placement)}"
