"""The static jobs of the demo catalogue, and the places on a car that their placements count from."""

from math import cos, radians, sin
from typing import NamedTuple

from service.catalogue.demo import CORRECTIONS, VEHICLES
from snapline.wire.catalogue import FixturePlacement, Procedure, VehicleDocument
from snapline_service.catalogue.files import Filed

CORRECTED = [filed.document for filed in CORRECTIONS if isinstance(filed, Filed)]
PUBLISHED = VEHICLES | {d.id: d for d in CORRECTED if isinstance(d, VehicleDocument)}
WITHOUT_FRONT_OVERHANG = "ostrivelle-pontaise-2021-eu"


class Job(NamedTuple):
    """A vehicle and one of its procedures."""

    vehicle_id: str
    procedure_id: str

    def __str__(self) -> str:
        return f"{self.vehicle_id}/{self.procedure_id}"

    @property
    def vehicle(self) -> VehicleDocument:
        return PUBLISHED[self.vehicle_id]

    @property
    def procedure(self) -> Procedure:
        return next(p for p in self.vehicle.procedures if p.id == self.procedure_id)

    @property
    def placements(self) -> dict[str, FixturePlacement]:
        return {item.id: item for stage in self.procedure.stages for item in stage.placements}


EVERY_JOB = [Job(v.id, p.id) for v in PUBLISHED.values() for p in v.procedures]
STATIC = [job for job in EVERY_JOB if job.procedure.method == "static"]
COMPLETE = [job for job in STATIC if job.vehicle_id != WITHOUT_FRONT_OVERHANG]

Point = tuple[float, float]


def known(value: float | None) -> float:
    assert value is not None
    return value


def place_of(vehicle: VehicleDocument, datum: str) -> Point:
    """Return where a datum is, x forward from the rear axle and y left (a line at y = 0)."""
    size, (kind, _, name) = vehicle.dimensions, datum.partition(":")
    if kind == "sensor":
        return vehicle.sensors[name].x_mm, vehicle.sensors[name].y_mm
    if datum == "rear_bumper":
        return -known(size.rear_overhang_mm), 0.0
    front, _, side = name.partition("_") if kind == "wheel" else datum.partition("_")
    x_mm = 0.0 if front == "rear" else known(size.wheelbase_mm)
    if datum == "front_bumper":
        return x_mm + known(size.front_overhang_mm), 0.0
    if kind != "wheel":
        return x_mm, 0.0
    track_mm = known(size.front_track_mm if front == "front" else size.rear_track_mm)
    return x_mm, track_mm / 2 if side == "left" else -track_mm / 2


def axis_of(vehicle: VehicleDocument, aim_line: str) -> Point:
    """Return the direction of an aim line; the thrust line of a car that nobody measured points forward."""
    kind, _, name = aim_line.partition(":")
    yaw = radians(vehicle.sensors[name].yaw_deg) if kind == "sensor" else 0.0
    return cos(yaw), sin(yaw)
