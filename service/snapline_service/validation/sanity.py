"""Whether the placements of a vehicle's document can be meant as they are written.

The bounds are common practice, no source; the tape is Directive 2014/32/EU's best (class I).
"""

from collections import defaultdict
from collections.abc import Collection, Iterator
from contextlib import suppress
from math import cos, radians, sin

from snapline.wire.catalogue import FixturePlacement, Procedure, VehicleDocument
from snapline.wire.geometry import Sensor
from snapline_service.errors import SnaplineError
from snapline_service.geometry import Pose, place
from snapline_service.geometry.envelope import vehicle_outline
from snapline_service.geometry.tapes import tape
from snapline_service.setups.translation import placement_of, vehicle_geometry
from snapline_service.setups.wording import length
from snapline_service.validation.doubt import Doubt

# Below the first a distance was written in metres, below the second in inches, above the third not in mm.
_METRES_BELOW_MM = 12.0
_INCHES_BELOW_MM = 160.0
_TOO_FAR_MM = 20_000.0
# A bumper is rounded: what stands this far within the rectangle round the body may still be outside it.
_ROUNDED_MM = 150.0
_COVERAGE = 2.0  # k = 2, about 95 % (JCGM 100:2008, 6.2)
_TAPE_MM = 30_000.0
# What is calibrated from within the cabin.
_IN_THE_CABIN = ("occupant_weight_sensor", "driver_camera", "head_up_display")


def placement_doubts(vehicle: VehicleDocument) -> Iterator[Doubt]:
    """Yield what is doubtful about where fixtures stand."""
    served = _sensors_served(vehicle)
    cabin = _procedures_of(vehicle, _IN_THE_CABIN)
    for number, procedure in enumerate(vehicle.procedures):
        for index, stage in enumerate(procedure.stages):
            for at, item in enumerate(stage.placements):
                pointer = f"/procedures/{number}/stages/{index}/placements/{at}"
                yield from _units(item, pointer)
                yield from _tolerance(item, pointer)
                # A dimension or datum that is missing is told elsewhere.
                with suppress(SnaplineError):
                    yield from _behind(vehicle, procedure, item, served[procedure.id], pointer)
                    if procedure.id not in cabin:
                        yield from _inside(vehicle, procedure, item, pointer)


def _units(item: FixturePlacement, at: str) -> Iterator[Doubt]:
    distances = {
        "along": abs(item.placement.along.distance_mm),
        "height": abs(item.placement.height.distance_mm),
    }
    for field, value_mm in distances.items():
        # Mats lie on the floor and wheels are touched: low heights are common, and only metres look odd.
        limit_mm = _INCHES_BELOW_MM if field == "along" else _METRES_BELOW_MM
        if 0 < value_mm < limit_mm:
            unit = "metres" if value_mm < _METRES_BELOW_MM else "inches"
            text = f"{length(value_mm)} looks like {unit}: a fixture hardly stands that close to its datum."
        elif value_mm > _TOO_FAR_MM:
            text = f"{length(value_mm)} is farther than a workshop reaches."
        else:
            continue
        mend = "Give millimetres, or say why it is so."
        yield Doubt("warning", "UNIT_DOUBTFUL", f"{at}/placement/{field}/distance_mm", text, mend)


def _tolerance(item: FixturePlacement, at: str) -> Iterator[Doubt]:
    if item.tolerance is None:
        return
    best = tape("I", _TAPE_MM).printed_in("mm")
    for axis in ("along", "lateral", "height"):
        allowed_mm = getattr(item.tolerance, f"{axis}_mm")
        distance_mm = abs(getattr(item.placement, axis).distance_mm)
        proven_mm = _COVERAGE * best.u_of_mm(distance_mm)
        if allowed_mm is not None and allowed_mm < proven_mm:
            text = f"No tape proves ±{length(allowed_mm)}: over {length(distance_mm)} the best one is sure of"
            text += f" ±{length(proven_mm)}."
            mend = "Correct it, or say what it is measured with."
            yield Doubt("warning", "TOLERANCE_UNPROVABLE", f"{at}/tolerance/{axis}_mm", text, mend)


def _behind(
    vehicle: VehicleDocument, procedure: Procedure, item: FixturePlacement, sensors: list[str], at: str
) -> Iterator[Doubt]:
    pose = place(vehicle_geometry(vehicle), placement_of(item.placement)).in_vehicle
    looking = [vehicle.sensors[name] for name in sensors if name in vehicle.sensors]
    if looking and not any(_faces(sensor, pose) for sensor in looking):
        names = ", ".join(name.replace("_", " ") for name in sensors)
        text = f"'{item.id}' of '{procedure.name}' stands behind what looks at it: {names}."
        mend = "Correct the datum or which way the distance counts, or say why it stands there."
        yield Doubt("warning", "BEHIND_SENSOR", f"{at}/placement/along", text, mend)


def _inside(
    vehicle: VehicleDocument, procedure: Procedure, item: FixturePlacement, at: str
) -> Iterator[Doubt]:
    if item.placement.along.datum.startswith("wheel:"):
        return  # it is held against a wheel
    geometry = vehicle_geometry(vehicle)
    pose = place(geometry, placement_of(item.placement)).in_vehicle
    (rear_mm, right_mm), _, (front_mm, left_mm), _ = vehicle_outline(geometry)
    height_mm = vehicle.dimensions.height_mm
    inside_mm = min(pose.x_mm - rear_mm, front_mm - pose.x_mm, pose.y_mm - right_mm, left_mm - pose.y_mm)
    if inside_mm > _ROUNDED_MM and (height_mm is None or 0 < pose.z_mm < height_mm):
        text = f"'{item.id}' of '{procedure.name}' stands {length(inside_mm)} inside the vehicle."
        mend = "Correct its datum or its distance."
        yield Doubt("error", "INSIDE_VEHICLE", f"{at}/placement", text, mend)


def _faces(sensor: Sensor, pose: Pose) -> bool:
    """Whether a place lies before a sensor, not behind it."""
    yaw = radians(sensor.yaw_deg)
    return (pose.x_mm - sensor.x_mm) * cos(yaw) + (pose.y_mm - sensor.y_mm) * sin(yaw) > 0


def _sensors_served(vehicle: VehicleDocument) -> dict[str, list[str]]:
    """Return the sensors that each procedure is for."""
    found: dict[str, dict[str, None]] = defaultdict(dict)
    for system in vehicle.systems:
        for requirement in system.requirements:
            for way in requirement.alternatives:
                for name in way.procedures:
                    found[name] |= dict.fromkeys(system.sensors)
    return defaultdict(list, {name: list(sensors) for name, sensors in found.items()})


def _procedures_of(vehicle: VehicleDocument, kinds: Collection[str]) -> set[str]:
    return {
        name
        for system in vehicle.systems
        if system.kind in kinds
        for requirement in system.requirements
        for way in requirement.alternatives
        for name in way.procedures
    }
