"""Compute a procedure's setup for one vehicle."""

from collections.abc import Iterator

import msgspec

from snapline.offline import RevisionFile
from snapline.wire import geometry as wire
from snapline.wire.catalogue import FixtureDocument, FixturePlacement, Procedure, Stage
from snapline.wire.common import Caution, Pose
from snapline.wire.setups import (
    ChosenFixture,
    Extent,
    NamedPoint,
    PlacedFixture,
    PlacementChoice,
    Setup,
    SetupRequest,
    SetupStage,
)
from snapline.wire.vehicles import Vehicle
from snapline_service import cautions, geometry
from snapline_service.errors import DatumsDoNotFixAPoint, MissingDimension, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.fixtures.matching import Shelf
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.geometry import Polygon
from snapline_service.geometry.axes import turned
from snapline_service.revisions.quoting import quoted_sources, references
from snapline_service.setups import choosing, floor, setting_out, wording
from snapline_service.setups.inputs import Inputs, gather, inputs_without_uncertainty
from snapline_service.setups.means import tape_text
from snapline_service.setups.standing import is_set_out
from snapline_service.setups.thrust_limit import beyond_limit
from snapline_service.setups.translation import bay_pose_of, placement_of

_ON_THE_CENTRELINE = (
    "These figures hold for a thrust line on the centreline only: read both rear toes and print the sheet "
    "again with them."
)
_FOR_AIMING = ("ALIGNMENT_FIRST", cautions.CAR_STAYS)


class _Work:
    """One setup being computed."""

    def __init__(self, file: RevisionFile, request: SetupRequest) -> None:
        self.request = request
        self.vehicle = _vehicle(file, request)
        self.procedure = _procedure(self.vehicle, request)
        self.inputs: Inputs = gather(self.vehicle, request)
        self.bay_pose = bay_pose_of(request.bay_pose)
        self.shelf: Shelf = shelf_of(file)
        self.placements: list[geometry.Placement] = []
        known = [item.id for stage in self.procedure.stages for item in stage.placements]
        choosing.require_known_placements(request, known)


def compute(file: RevisionFile, request: SetupRequest) -> Setup:
    """Return the setup. Raises UnknownName, InvalidValue, MissingDimension, DatumsDoNotFixAPoint."""
    work = _Work(file, request)
    try:
        stages = tuple(_stage(work, stage) for stage in work.procedure.stages)
        stages, on_floor, taken_for_granted = floor.corrected(request, work.inputs.vehicle, stages)
    except MissingDimension as error:
        name = error.pointer.replace("/", ".").removeprefix(".")
        mend = f"Measure it on the car and give it as measured '{name}'."
        raise MissingDimension(error.detail, pointer=pointer(["measured", name]), mend=mend) from None
    except DatumsDoNotFixAPoint as error:  # what the catalogue says does, so a measured angle is at fault
        mend = "Measure the angle of the aim line again."
        raise DatumsDoNotFixAPoint(error.detail, pointer="/measured", mend=mend) from None
    vehicle, procedure = work.vehicle, work.procedure
    quoted = quoted_sources(procedure)
    placed = [item for stage in stages for item in stage.placements]
    return Setup(
        vehicle_id=vehicle.id,
        vehicle_name=_vehicle_name(vehicle),
        procedure_id=procedure.id,
        procedure_name=procedure.name,
        method=procedure.method,
        vehicle=msgspec.convert(work.inputs.vehicle, wire.KnownGeometry, from_attributes=True),
        measured=work.inputs.measured,
        stages=stages,
        envelope=_overall([stage.extent for stage in stages if stage.extent]),
        unknown_dimensions=_unknown_dimensions(work) if stages else (),
        preparation=procedure.preparation,
        drive=procedure.drive,
        tool_function=procedure.tool_function,
        unchecked=_unchecked(procedure),
        without_uncertainty=inputs_without_uncertainty(work.inputs, work.placements, work.bay_pose),
        assumed=(*_assumed(work), *taken_for_granted),
        floor=on_floor,
        stops_work=_stops_work(work),
        marks_left_out=setting_out.left_out(work.inputs, request) if stages else (),
        tape_text=tape_text(request) if stages else "",
        units=request.units,
        tyre_width_mm=work.inputs.tyre_width_mm,
        invented=vehicle.invented,
        catalogue_revision=file.revision,
        sources=tuple(source for source in vehicle.sources if source.id in quoted),
        cautions=_cautions(work, placed),
    )


def _vehicle(file: RevisionFile, request: SetupRequest) -> Vehicle:
    vehicle = file.get_vehicle(request.vehicle_id)
    if vehicle is None:
        detail = f"The catalogue has no vehicle '{request.vehicle_id}'."
        raise UnknownName(detail, pointer="/vehicle_id", mend="Find it with GET /v1/vehicles or identify it.")
    return vehicle


def _procedure(vehicle: Vehicle, request: SetupRequest) -> Procedure:
    procedures = {procedure.id: procedure for procedure in vehicle.procedures}
    if request.procedure_id not in procedures:
        detail = f"The vehicle has no procedure '{request.procedure_id}'."
        mend = nearest(request.procedure_id, list(procedures))
        raise UnknownName(detail, pointer="/procedure_id", mend=mend)
    return procedures[request.procedure_id]


def _stage(work: _Work, stage: Stage) -> SetupStage:
    found = [_place(work, item) for item in stage.placements]
    placed = tuple(item for item, _ in found)
    allowance = work.procedure.aim_allowance
    set_out, marks = setting_out.of_stage(
        work.inputs,
        work.request,
        placed,
        [outlines for _, outlines in found],
        allowance.sensor if allowance else None,
    )
    polygons = [shape for _, outlines in found for shape in outlines]
    polygons += [item.clear_zone for item in placed if item.clear_zone]
    polygons += [tuple((foot.x_mm, foot.y_mm) for foot in item.feet) for item in placed if item.feet]
    polygons += [((item.in_vehicle.x_mm, item.in_vehicle.y_mm),) for item in placed]
    return SetupStage(
        id=stage.id,
        name=stage.name,
        placements=set_out,
        marks=marks,
        extent=_extent(work, polygons, [item.top_mm for item in placed if item.top_mm]),
        walking_margin_mm=stage.walking_margin_mm,
    )


def _place(work: _Work, item: FixturePlacement) -> tuple[PlacedFixture, list[Polygon]]:
    """Return a fixture in place, and the outlines of it and of what carries it."""
    choice = work.request.placements.get(item.id, PlacementChoice())
    by_property, at = work.request.by_property, pointer(["placements", item.id, "fixture_id"])
    fixture = choosing.choose(item.need, choice.fixture_id, at, work.shelf, by_property=by_property)
    carrier = choosing.choose_carrier(item, choice.carrier_id, work.shelf)
    sentence = choosing.placement_at(item, choice)
    placement = placement_of(sentence)
    work.placements.append(placement)
    placed = geometry.place(
        work.inputs.vehicle,
        placement,
        bay_pose=work.bay_pose,
        standard_uncertainty=work.inputs.standard_uncertainty,
    )
    pose = placed.in_vehicle
    aim_yaw_deg = pose.yaw_deg - sentence.yaw_deg
    stands = [found[0] for found in (fixture, carrier) if found]
    outlines = [geometry.footprint(stand.footprint, pose) for stand in stands if stand.footprint]
    placed_fixture = PlacedFixture(
        id=item.id,
        capability=item.need.capability,
        fixture=fixture[1] if fixture else None,
        carrier=carrier[1] if carrier else None,
        carrier_needed=item.carrier.capability if item.carrier else None,
        sentence=wording.sentence(sentence, aim_yaw_deg, _reference_point(fixture)),
        placement=sentence,
        in_vehicle=msgspec.convert(pose, Pose, from_attributes=True),
        in_bay=msgspec.convert(placed.in_bay, Pose, from_attributes=True) if placed.in_bay else None,
        covariance_xy_mm2=placed.covariance_xy_mm2,
        contributions=msgspec.convert(
            placed.contributions, tuple[wire.Contribution, ...] | None, from_attributes=True
        ),
        u_z_mm=placed.u_z_mm,
        u_yaw_deg=placed.u_yaw_deg,
        tolerance=item.tolerance,
        aim_tolerance=_aim_tolerance(work, pose),
        feet=tuple(_feet(stands, pose)),
        footprint=outlines[-1] if outlines else (),
        clear_zone=_clear_zone(item, pose),
        top_mm=max((one.top_mm for one in stands if one.top_mm), default=None),
        along_range=item.range,
    )
    return placed_fixture, outlines


def _reference_point(fixture: tuple[FixtureDocument, ChosenFixture] | None) -> str:
    return fixture[0].reference_point if fixture else "reference point"


def _aim_tolerance(work: _Work, pose: geometry.Pose) -> wire.AimTolerance | None:
    allowance = work.procedure.aim_allowance
    if allowance is None:
        return None
    sensor = work.inputs.vehicle.sensors[allowance.sensor]
    ahead_mm, left_mm = turned((pose.x_mm - sensor.x_mm, pose.y_mm - sensor.y_mm), -sensor.yaw_deg)
    if ahead_mm <= abs(left_mm):  # beside or behind the sensor: another sensor is aimed at this
        return None
    found = geometry.floor_tolerance(
        sensor,
        pose,
        aim_yaw_deg=sensor.yaw_deg,
        allowed_yaw_deg=allowance.yaw_deg,
        allowed_elevation_deg=allowance.elevation_deg,
    )
    return msgspec.convert(found, wire.AimTolerance, from_attributes=True)


def _feet(stands: list[FixtureDocument], pose: geometry.Pose) -> Iterator[NamedPoint]:
    """Yield the floor contacts of whatever has any: the fixture itself, or what carries it."""
    for stand in stands:
        points = geometry.footprint([(foot.x_mm, foot.y_mm) for foot in stand.feet], pose)
        for foot, (x_mm, y_mm) in zip(stand.feet, points, strict=True):
            yield NamedPoint(name=foot.name, x_mm=x_mm, y_mm=y_mm)


def _clear_zone(item: FixturePlacement, pose: geometry.Pose) -> Polygon:
    zone = item.clear_zone
    if zone is None:
        return ()
    corners = (
        (zone.facing_mm, zone.left_mm),
        (-zone.behind_mm, zone.left_mm),
        (-zone.behind_mm, -zone.right_mm),
        (zone.facing_mm, -zone.right_mm),
    )
    return geometry.footprint(corners, pose)


def _extent(work: _Work, polygons: list[Polygon], tops_mm: list[float]) -> Extent | None:
    """Return the room taken, or None where a dimension of the body is unknown."""
    try:
        outline = geometry.vehicle_outline(work.inputs.vehicle)
    except MissingDimension:
        return None
    car_height_mm = work.vehicle.dimensions.height_mm
    heights = [*tops_mm, car_height_mm] if car_height_mm else tops_mm
    found = geometry.extent([outline, *polygons], heights)
    return msgspec.convert(found, Extent, from_attributes=True)


def _overall(extents: list[Extent]) -> Extent | None:
    if not extents:
        return None
    corners = [((e.x_min_mm, e.y_min_mm), (e.x_max_mm, e.y_max_mm)) for e in extents]
    heights = [e.height_mm for e in extents if e.height_mm is not None]
    return msgspec.convert(geometry.extent(corners, heights), Extent, from_attributes=True)


def _unknown_dimensions(work: _Work) -> tuple[str, ...]:
    names = wire.KnownGeometry.__struct_fields__
    return tuple(f"vehicle.{name}" for name in names if getattr(work.inputs.vehicle, name) is None)


def _assumed(work: _Work) -> tuple[str, ...]:
    aimed_by_thrust_line = any(placement.aim_line == "thrust_line" for placement in work.placements)
    if aimed_by_thrust_line and "vehicle.thrust_yaw_deg" not in work.inputs.measured:
        return (_ON_THE_CENTRELINE,)
    return ()


def _stops_work(work: _Work) -> tuple[str, ...]:
    """Say that the wheels come first where the thrust line is turned further than the vehicle allows."""
    beyond = beyond_limit(work.vehicle, work.inputs.vehicle.thrust_yaw_deg)
    return (f"{beyond}: do not aim, align the wheels first.",) if beyond else ()


def _unchecked(procedure: Procedure) -> tuple[str, ...]:
    """Return the places in sources that nobody compared with what is written here."""
    found = [r for r in references(procedure) if r.checked_on is None]
    return tuple(dict.fromkeys(f"{reference.source}, {reference.locator}" for reference in found))


def _cautions(work: _Work, placed: list[PlacedFixture]) -> tuple[Caution, ...]:
    chosen = [one for item in placed for one in (item.fixture, item.carrier) if one]
    kinds = [
        system.kind
        for system in work.vehicle.systems
        for requirement in system.requirements
        for way in requirement.alternatives
        if work.procedure.id in way.procedures
    ]
    found = cautions.for_work(
        [work.procedure],
        kinds,
        [one.fixture_kind for one in chosen],
        by_property=any(one.match == "by_property" for one in chosen),
    )
    aims = any(is_set_out(item) for item in placed)  # nothing is aimed by a weight on a seat
    return tuple(caution for caution in found if aims or caution.code not in _FOR_AIMING)


def _vehicle_name(vehicle: Vehicle) -> str:
    last = vehicle.model_year_last or "today"
    return f"{vehicle.make} {vehicle.model} ({vehicle.model_year_first}–{last})"
