"""The prepared look-ups of vehicles."""

import msgspec

from snapline.offline import RevisionFile
from snapline.wire.vehicles import Vehicle, VehiclePage, VehicleQuery, VehicleSystem
from snapline_service import cautions
from snapline_service.errors import NotFound
from snapline_service.faults import nearest
from snapline_service.fixtures.matching import Shelf
from snapline_service.fixtures.reverse import needs_of_all
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.reads import Read
from snapline_service.revisions.quoting import quoted_sources


def _list(file: RevisionFile, _names: list[str], query: VehicleQuery) -> bytes:
    return file.vehicle_page(query)


def _get_system(file: RevisionFile, names: list[str], _query: None) -> bytes | None:
    vehicle = file.get_vehicle(names[0])
    if vehicle is None:
        return None
    answer = system_of(vehicle, names[1], shelf_of(file))
    if answer is None:
        message = f"The vehicle has no system '{names[1][:80]}'."
        raise NotFound(message, mend=nearest(names[1], [system.id for system in vehicle.systems]))
    return msgspec.json.encode(answer)


def system_of(vehicle: Vehicle, system_id: str, shelf: Shelf) -> VehicleSystem | None:
    """Return one system of a vehicle with what belongs to it."""
    system = next((system for system in vehicle.systems if system.id == system_id), None)
    if system is None:
        return None
    ways = [way for requirement in system.requirements for way in requirement.alternatives]
    used = {name for way in ways for name in way.procedures}
    procedures = tuple(procedure for procedure in vehicle.procedures if procedure.id in used)
    quoted = quoted_sources((system, procedures))
    return VehicleSystem(
        vehicle_id=vehicle.id,
        system=system,
        procedures=procedures,
        changed_in_revision=vehicle.changed_in_revision,
        sources=tuple(source for source in vehicle.sources if source.id in quoted),
        cautions=cautions.for_work(procedures, [system.kind], shelf.kinds(needs_of_all(procedures))),
        invented=vehicle.invented,
    )


READS = (
    Read(
        path="/v1/vehicles",
        operation_id="list_vehicles",
        tag="vehicles",
        summary="List and search vehicles.",
        answers=VehiclePage,
        make=_list,
        query=VehicleQuery,
    ),
    Read(
        path="/v1/vehicles/{vehicle_id}",
        operation_id="get_vehicle",
        tag="vehicles",
        summary="Get a vehicle's whole requirement document.",
        answers=Vehicle,
        document=RevisionFile.vehicle,
    ),
    Read(
        path="/v1/vehicles/{vehicle_id}/systems/{system_id}",
        operation_id="get_vehicle_system",
        tag="vehicles",
        summary="Get one system of a vehicle with the procedures that its alternatives use.",
        answers=VehicleSystem,
        make=_get_system,
    ),
)
