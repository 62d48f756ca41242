"""A vehicle as lists show it."""

from snapline.wire.catalogue import VehicleDocument
from snapline.wire.vehicles import SystemBrief, VehicleSummary


def vehicle_summary(vehicle: VehicleDocument, changed_in_revision: int) -> VehicleSummary:
    """Return what a list says of a vehicle."""
    return VehicleSummary(
        id=vehicle.id,
        make=vehicle.make,
        model=vehicle.model,
        body=vehicle.body,
        markets=vehicle.markets,
        drive_side=vehicle.drive_side,
        model_year_first=vehicle.model_year_first,
        model_year_last=vehicle.model_year_last,
        invented=vehicle.invented,
        systems=tuple(
            SystemBrief(id=s.id, kind=s.kind, name=s.name, optional=s.fitted_when is not None)
            for s in vehicle.systems
        ),
        changed_in_revision=changed_in_revision,
    )


def vehicle_name(vehicle: VehicleDocument) -> str:
    """Return a vehicle's name with its model years, as a sheet's heading has it."""
    last = vehicle.model_year_last or "today"
    return f"{vehicle.make} {vehicle.model} ({vehicle.model_year_first}–{last})"
