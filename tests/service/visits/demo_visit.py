"""Visits of the demo's cars, planned at its sites."""

from service.catalogue.demo import SITES, VEHICLES
from snapline.offline import RevisionFile
from snapline.wire.scope import RepairLine
from snapline.wire.visits import VisitPlan, VisitRequest
from snapline_service.visits.plan import Group, plan


def everything(vehicle_id: str) -> tuple[RepairLine, ...]:
    """A line for every rule of the vehicle that calls for something."""
    rules = [rule for system in VEHICLES[vehicle_id].systems for rule in system.disturbances]
    called = {(rule.operation, rule.extent) for rule in rules if rule.effect == "called_for"}
    return tuple(RepairLine(operation=name, extent=extent) for name, extent in sorted(called, key=str))


def planned_at(
    file: RevisionFile,
    vehicle_id: str,
    site: str,
    *lines: RepairLine,
    options: dict[str, str] | None = None,
) -> VisitPlan:
    """A windscreen and a rear bumper cover, unless other lines are given, planned at one site."""
    windscreen = RepairLine(operation="windscreen", extent="replaced")
    asked = VisitRequest(
        vehicle_id=vehicle_id,
        operations=lines or (windscreen, RepairLine(operation="rear bumper cover")),
        options=options or {},
        sites=(site,),
        date="2027-06-15",
        start="07:00",
    )
    return plan(file, Group(SITES, {}), asked)
