"""Which bays of a group have room and light for a vehicle's procedures."""

from collections.abc import Sequence

from snapline.offline import RevisionFile
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.scope import Scope
from snapline.wire.sites import SiteDocument
from snapline.wire.vehicles import Vehicle
from snapline.wire.visits import VisitRequest
from snapline_service.visits import rooms
from snapline_service.visits.choices import Need
from snapline_service.visits.job import Job

_NO_LINES = Scope(
    operations=(), unknown_operations=(), systems=(), changed_car=(), questions=(), notes=()
)  # room does not depend on the repair


def served_bays(
    file: RevisionFile, vehicle: VehicleDocument, group: Sequence[SiteDocument]
) -> dict[str, set[tuple[str, str]]]:
    """Return site and bay of every bay that serves a static procedure, by procedure.

    What a dimension is missing for is left out. Fixtures stand as the catalogue's first that would serve.
    """
    if not isinstance(vehicle, Vehicle):
        return {}
    request = VisitRequest(vehicle_id=vehicle.id, operations=(), date="2000-01-01")
    needs = [
        Need(system, one, conditional=False) for system in vehicle.systems for one in system.requirements
    ]
    job = Job(file, request, vehicle, _NO_LINES, needs)
    needed = [
        rooms.Needed(
            procedure,
            job.room_for(procedure, (), slack=False),
            job.room_for(procedure, (), slack=True),
        )
        for name, procedure in job.procedures.items()
        if procedure.method == "static" and not job.stopped[name]
    ]
    found: dict[str, set[tuple[str, str]]] = {one.procedure.id: set() for one in needed}
    for site in group:
        for bay in site.bays:
            for name in rooms.try_bay(bay, needed).serves:
                found[name].add((site.id, bay.id))
    return found
