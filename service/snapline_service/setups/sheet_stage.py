"""A stage as a part of the sheet: plan, what stands where, what to set and check, and the room it takes."""

from collections.abc import Iterator
from math import ceil

from snapline.wire.geometry import AimTolerance
from snapline.wire.setups import PlacedFixture, Setup, SetupStage
from snapline_service.geometry.input_words import spoken
from snapline_service.setups import sheet_checks, sheet_setting_out, wording
from snapline_service.setups.drawing import scene_of, stage_warnings
from snapline_service.setups.facing import facing
from snapline_service.setups.figures import whole_limit
from snapline_service.setups.sheet_checks import reference_point
from snapline_service.sheets.document import Block, Column, Section, Statements, Table
from snapline_service.sheets.lengths import Units
from snapline_service.sheets.title_block import SIGNS

_NOTHING_MM = 0.05
_SIDES = "Left and right are the car's own, as from the driver's seat, unless something else is said."
_BUMPERS = {
    "front_bumper": "The front bumper is the foremost point of the body, without the number plate.",
    "rear_bumper": "The rear bumper is the rearmost point of the body, without the number plate.",
}


def stage_section(setup: Setup, stage: SetupStage, code: str) -> Section:
    """Return a stage. Raises MissingDimension if a dimension of the vehicle is not known."""
    return Section(
        title=f"Stage: {stage.name}",
        code=code,
        blocks=tuple(_blocks(setup, stage)),
        plan=scene_of(setup, stage),
    )


def not_sure(setup: Setup, stages: tuple[SetupStage, ...]) -> Iterator[str]:
    """Yield what was assumed, what nobody checked, and what stands there by our arithmetic alone."""
    yield from setup.assumed
    yield from wording.unchecked(setup.unchecked, setup.sources)
    for stage in stages:
        yield from stage_warnings(stage)


def _blocks(setup: Setup, stage: SetupStage) -> Iterator[Block]:
    yield Statements("STOP", setup.stops_work, "stop")
    yield Table(
        "What stands where",
        (Column("No.", 8), Column("Fixture", 40), Column("Place", 62), Column("Stands", 40)),
        tuple(
            (str(number), _fixture(item), _sentence(item, setup.units), _stands(item))
            for number, item in enumerate(stage.placements, start=1)
        ),
        note=_notes(stage),
    )
    yield Statements("Not checked or assumed", tuple(not_sure(setup, (stage,))), "warning")
    yield from sheet_setting_out.blocks(setup, stage)
    yield sheet_checks.table(stage.placements, setup.units)
    yield from sheet_setting_out.besides(stage, setup.units)
    yield Statements("Room and reach", tuple(_room(stage, setup.units)))
    yield Statements("Signs in the plan", (SIGNS,))


def _fixture(item: PlacedFixture) -> str:
    name = item.fixture.name if item.fixture else f"none chosen for {spoken(item.capability)}"
    by_property = " (not named by the source)" if item.fixture and item.fixture.match == "by_property" else ""
    carrier = f", on {item.carrier.name}" if item.carrier else ""
    if item.carrier_needed and not item.carrier:
        carrier = f", on a {spoken(item.carrier_needed)} (none chosen)"
    return f"{name}{by_property}{carrier}"


def _sentence(item: PlacedFixture, units: Units) -> str:
    aim_yaw_deg = item.in_vehicle.yaw_deg - item.placement.yaw_deg
    said = wording.sentence(item.placement, aim_yaw_deg, reference_point(item), units)
    if item.along_range is None:
        return said
    ends_mm = sorted(map(abs, (item.along_range.min_mm, item.along_range.max_mm)))
    least, most = (wording.length(end_mm, units) for end_mm in ends_mm)
    return f"{said} The source allows {least} to {most} along; for another distance print the sheet anew."


def _stands(item: PlacedFixture) -> str:
    words = facing(item.placement, item.in_vehicle)
    if "laser" in item.capability:
        words = words.replace("square to", "beam along")
    return words[0].upper() + words[1:]


def _notes(stage: SetupStage) -> str:
    used = {item.placement.along.datum for item in stage.placements}
    return " ".join([_SIDES, *(text for name, text in _BUMPERS.items() if name in used)])


def _room(stage: SetupStage, units: Units) -> Iterator[str]:
    room = stage.extent
    if room:
        long, wide, high = (
            wording.length(ceil(size_mm - _NOTHING_MM), units) if size_mm else ""
            for size_mm in (room.length_mm, room.width_mm, room.height_mm)
        )
        sizes = f"{long} long, {wide} wide"
        high = f", {high} high" if high else ""
        yield f"Room for the car, fixtures and clear zones: {sizes}{high}."
    if stage.walking_margin_mm:
        yield f"Keep {wording.length(stage.walking_margin_mm, units)} free all round to walk in."
    for number, item in enumerate(stage.placements, start=1):
        if item.floor:
            yield f"{number}: {item.floor.statement}"
        if item.aim_tolerance:
            said = ", ".join(_allowed(item.aim_tolerance, units))
            yield f"{number}: what the sensor's allowed aim error leaves, each by itself, either way: {said}."


def _allowed(aim: AimTolerance, units: Units) -> Iterator[str]:
    limits = (("along", aim.along_mm), ("to the side", aim.lateral_mm), ("in height", aim.height_mm))
    yield from (f"{whole_limit(limit_mm, units)} {axis}" for axis, limit_mm in limits if limit_mm is not None)
