"""Check what a document says against itself and against the rest of the catalogue."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from graphlib import CycleError, TopologicalSorter
from typing import Any

import msgspec
from msgspec import Struct

from snapline.wire.catalogue import (
    CatalogueDocument,
    Condition,
    FixtureDocument,
    FixturePlacement,
    OperationDocument,
    PreparationItem,
    Procedure,
    System,
    VehicleDocument,
)
from snapline.wire.common import SourceRef
from snapline_service import plausible
from snapline_service.errors import Fault, MissingDimension, SnaplineError
from snapline_service.faults import nearest
from snapline_service.geometry import cross_section, place
from snapline_service.geometry.uncertainty import require_uncertainties
from snapline_service.setups.translation import placement_of, vehicle_geometry
from snapline_service.vehicles.vin import check_pattern


class Names(Struct, frozen=True):
    """What the documents of a catalogue may refer to; an operation is None while its document has faults."""

    sources: frozenset[str]
    fixtures: frozenset[str]
    operations: Mapping[str, OperationDocument | None]


def check(document: CatalogueDocument, names: Names) -> list[Fault]:
    """Return what is inconsistent in a document whose form is good."""
    faults = list(_sources(document, names, ""))
    if isinstance(document, VehicleDocument):
        faults += _vehicle(document, names)
    elif isinstance(document, FixtureDocument):
        faults += _fixture(document)
    return faults


def _sources(value: Any, names: Names, pointer: str) -> Iterator[Fault]:
    """Find every reference to a source, however deep."""
    if isinstance(value, SourceRef):
        yield from _known("source", value.source, names.sources, f"{pointer}/source")
    elif isinstance(value, Struct):
        for field in value.__struct_fields__:
            yield from _sources(getattr(value, field), names, f"{pointer}/{field}")
    elif isinstance(value, tuple):
        for index, part in enumerate(value):
            yield from _sources(part, names, f"{pointer}/{index}")


def _vehicle(vehicle: VehicleDocument, names: Names) -> Iterator[Fault]:
    if vehicle.model_year_last is not None and vehicle.model_year_last < vehicle.model_year_first:
        detail = "The last model year is before the first."
        yield Fault("/model_year_last", detail, "Exchange the two, or correct one.")
    yield from _dimensions(vehicle)
    for field in ("options", "systems", "procedures"):
        yield from _unique((part.id for part in getattr(vehicle, field)), f"/{field}")
    options = {option.id for option in vehicle.options}
    yield from _equipment_said(vehicle, options)
    for index, vin_pattern in enumerate(vehicle.vin_patterns):
        yield from _raised(check_pattern, vin_pattern.pattern, pointer=f"/vin_patterns/{index}/pattern")
    yield from _uncertainties(vehicle)
    for index, system in enumerate(vehicle.systems):
        yield from _system(system, vehicle, names, options, f"/systems/{index}")
    for index, procedure in enumerate(vehicle.procedures):
        yield from _procedure(procedure, vehicle, names, f"/procedures/{index}")
    systems = {system.id for system in vehicle.systems}
    for index, rule in enumerate(vehicle.changed_car):
        yield from _all_known("system", rule.systems, systems, f"/changed_car/{index}/systems")
    yield from _order(vehicle)


def _equipment_said(vehicle: VehicleDocument, options: set[str]) -> Iterator[Fault]:
    """Check what VIN patterns and build codes say of options."""
    for field in ("vin_patterns", "build_codes"):
        for index, says in enumerate(getattr(vehicle, field)):
            for side in ("fitted", "absent"):
                yield from _all_known("option", getattr(says, side), options, f"/{field}/{index}/{side}")
            for name in sorted(set(says.fitted) & set(says.absent)):
                detail = f"'{name}' cannot be both fitted and absent."
                yield Fault(f"/{field}/{index}/absent", detail, "Remove it from one of the two.")


def _dimensions(vehicle: VehicleDocument) -> Iterator[Fault]:
    for field, (low, high) in plausible.RANGES_MM.items():
        value = getattr(vehicle.dimensions, field)
        if value is not None and not plausible.is_dimension(field, value):
            detail = f"{value:g} mm is not a vehicle's {field.removesuffix('_mm').replace('_', ' ')}."
            mend = f"Give millimetres: {low:g} to {high:g} mm is usual."
            yield Fault(f"/dimensions/{field}", detail, mend)


def _system(
    system: System, vehicle: VehicleDocument, names: Names, options: set[str], at: str
) -> Iterator[Fault]:
    procedures = {procedure.id for procedure in vehicle.procedures}
    requirements = {requirement.id for requirement in system.requirements}
    yield from _all_known("sensor", system.sensors, vehicle.sensors, f"{at}/sensors")
    yield from _condition(system.fitted_when, options, f"{at}/fitted_when")
    yield from _unique((requirement.id for requirement in system.requirements), f"{at}/requirements")
    for index, requirement in enumerate(system.requirements):
        here = f"{at}/requirements/{index}"
        yield from _condition(requirement.when, options, f"{here}/when")
        yield from _unique((way.id for way in requirement.alternatives), f"{here}/alternatives")
        for number, way in enumerate(requirement.alternatives):
            place = f"{here}/alternatives/{number}/procedures"
            yield from _all_known("procedure", way.procedures, procedures, place)
    for index, rule in enumerate(system.disturbances):
        here = f"{at}/disturbances/{index}"
        yield from _known("operation", rule.operation, names.operations, f"{here}/operation")
        operation = names.operations.get(rule.operation)
        if operation and rule.extent:
            yield from _known("extent", rule.extent, operation.extents, f"{here}/extent")
        if rule.requirement:
            yield from _known("requirement", rule.requirement, requirements, f"{here}/requirement")
        if rule.effect == "conditional" and not rule.question:
            detail = "A conditional rule does not say what decides."
            yield Fault(f"{here}/question", detail, "Add the question whose answer decides.")


# What each method must have, and what only another method has.
_PARTS = {
    "static": ("stages", ("drive",)),
    "dynamic": ("drive", ("stages",)),
    "scan_tool": ("tool_function", ("stages", "drive")),
}


def _procedure(procedure: Procedure, vehicle: VehicleDocument, names: Names, at: str) -> Iterator[Fault]:
    needed, unfit = _PARTS[procedure.method]
    if not getattr(procedure, needed):
        yield Fault(f"{at}/{needed}", f"A {procedure.method} procedure needs '{needed}'.", f"Add '{needed}'.")
    for field in unfit:
        if getattr(procedure, field):
            detail = f"A {procedure.method} procedure has no '{field}'."
            yield Fault(f"{at}/{field}", detail, "Remove it or change the method.")
    if procedure.drive and procedure.drive.speed_min_kmh >= procedure.drive.speed_max_kmh:
        detail = "The lowest speed is not below the highest."
        yield Fault(f"{at}/drive/speed_min_kmh", detail, "Exchange the two, or correct one.")
    if procedure.aim_allowance:
        sensor = procedure.aim_allowance.sensor
        yield from _known("sensor", sensor, vehicle.sensors, f"{at}/aim_allowance/sensor")
    for index, item in enumerate(procedure.preparation):
        yield from _preparation(item, vehicle, f"{at}/preparation/{index}")
    yield from _unique((stage.id for stage in procedure.stages), f"{at}/stages")
    seen: set[str] = set()
    for number, stage in enumerate(procedure.stages):
        yield from _unique((item.id for item in stage.placements), f"{at}/stages/{number}/placements", seen)
        for index, placement in enumerate(stage.placements):
            yield from _placement(placement, vehicle, names, f"{at}/stages/{number}/placements/{index}")


def _placement(item: FixturePlacement, vehicle: VehicleDocument, names: Names, at: str) -> Iterator[Fault]:
    for field in ("need", "carrier"):
        need = getattr(item, field)
        if need:
            yield from _all_known("fixture", need.named, names.fixtures, f"{at}/{field}/named")
            radar = need.radar
            if radar and radar.max_rcs_dbsm is not None and radar.max_rcs_dbsm < radar.min_rcs_dbsm:
                detail = "The largest radar cross-section is below the smallest."
                yield Fault(f"{at}/{field}/radar/max_rcs_dbsm", detail, "Exchange the two, or correct one.")
    distance = item.placement.along.distance_mm
    if item.range and not item.range.min_mm <= distance <= item.range.max_mm:
        detail = "The distance of the placement is outside its own range."
        yield Fault(f"{at}/range", detail, "Correct the range or the distance.")
    # A dimension may be unknown yet; a setup names it when it is asked for.
    with suppress(MissingDimension):
        try:
            place(vehicle_geometry(vehicle), placement_of(item.placement))
        except MissingDimension:
            raise
        except SnaplineError as error:
            yield Fault(at + error.pointer, error.detail, error.mend, error.code)


def _preparation(item: PreparationItem, vehicle: VehicleDocument, at: str) -> Iterator[Fault]:
    if item.type == "limit" and item.minimum is None and item.maximum is None:
        detail = "A limit has neither minimum nor maximum."
        yield Fault(f"{at}/minimum", detail, "Add the one that the source states.")
    if item.feeds:
        try:
            require_uncertainties(vehicle_geometry(vehicle), {item.feeds: 0.0})
        except SnaplineError as error:
            yield Fault(f"{at}/feeds", error.detail, error.mend, error.code)


def _uncertainties(vehicle: VehicleDocument) -> Iterator[Fault]:
    geometry = vehicle_geometry(vehicle)
    for name, u in vehicle.standard_uncertainty.items():
        yield from _raised(require_uncertainties, geometry, {name: u}, pointer="")


def _fixture(fixture: FixtureDocument) -> Iterator[Fault]:
    low, high = fixture.height_min_mm, fixture.height_max_mm
    if low is not None and high is not None and high < low:
        yield Fault("/height_max_mm", "The greatest height is below the least.", "Exchange the two.")
    yield from _unique((foot.name for foot in fixture.feet), "/feet", field="name")
    if fixture.reflector:
        sizes = msgspec.structs.asdict(fixture.reflector)
        yield from _raised(cross_section, frequency_ghz=77.0, pointer="/reflector", **sizes)


def _order(vehicle: VehicleDocument) -> Iterator[Fault]:
    """Check that procedures wait only for known ones and never for each other in a ring."""
    procedures = {procedure.id for procedure in vehicle.procedures}
    for index, procedure in enumerate(vehicle.procedures):
        at = f"/procedures/{index}/after_procedures"
        yield from _all_known("procedure", procedure.after_procedures, procedures, at)
    try:
        TopologicalSorter({p.id: p.after_procedures for p in vehicle.procedures}).prepare()
    except CycleError as error:
        ring = " → ".join(reversed(error.args[1]))
        yield Fault("/procedures", f"Procedures wait for each other: {ring}.", "Break the ring.")


def _condition(condition: Condition | None, options: set[str], at: str) -> Iterator[Fault]:
    if condition:
        for field in condition.__struct_fields__:
            yield from _all_known("option", getattr(condition, field), options, f"{at}/{field}")


def _all_known(what: str, names: Iterable[str], known: Iterable[str], at: str) -> Iterator[Fault]:
    for index, name in enumerate(names):
        yield from _known(what, name, known, f"{at}/{index}")


def _known(what: str, name: str, known: Iterable[str], at: str) -> Iterator[Fault]:
    if name not in known:
        mend = f"{nearest(name, list(known))} Or add it." if known else "Add it, or correct the name."
        yield Fault(at, f"There is no {what} '{name}'.", mend, "UNKNOWN_NAME")


def _unique(
    names: Iterable[str], at: str, seen: set[str] | None = None, field: str = "id"
) -> Iterator[Fault]:
    """Find the names that stand twice, or stand in ``seen``, to which they are added."""
    seen = set() if seen is None else seen
    for index, name in enumerate(names):
        if name in seen:
            yield Fault(f"{at}/{index}/{field}", f"'{name}' stands twice.", "Give one of them another name.")
        seen.add(name)


def _raised(function: Any, *values: Any, pointer: str, **named: Any) -> Iterator[Fault]:
    """Turn an error that a pure function raises about its input into a fault."""
    try:
        function(*values, **named)
    except SnaplineError as error:
        own = error.pointer if error.pointer.startswith("/") else ""
        yield Fault(pointer + own, error.detail, error.mend, error.code)
