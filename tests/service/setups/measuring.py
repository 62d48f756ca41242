"""A person who measures what was set out: to every point, from the marks that the setup names."""

from collections.abc import Callable, Mapping
from math import cos, hypot, radians, sin
from typing import Any

import msgspec

from service.setups.job import Job
from snapline import Snapline
from snapline.wire.setting_out import Tape
from snapline.wire.setups import PlacedFixture, Setup, SetupRequest
from snapline.wire.verification import MeasuredDistance, MeasuredHeight, MeasuredTilt, VerifyRequest

Point = tuple[float, float]
# Every figure of the car that a placement or a mark may rest on, measured to half a millimetre.
SURE = {
    **dict.fromkeys(
        (
            *("vehicle.wheelbase_mm", "vehicle.front_track_mm", "vehicle.rear_track_mm"),
            *("vehicle.front_overhang_mm", "vehicle.rear_overhang_mm", "vehicle.tyre_width_mm"),
        ),
        0.5,
    ),
    "vehicle.thrust_yaw_deg": 0.01,
}
FINE = Tape(class_="I", length_mm=10_000)


def surely(job: Job, **fields: Any) -> SetupRequest:
    """Return the request of a person who works with care: figures known well, a fine tape, a sharp pencil."""
    sensors = {
        f"vehicle.sensors.{name}.{axis}": 0.05 if axis == "yaw_deg" else 0.5
        for name in job.vehicle.sensors
        for axis in ("x_mm", "y_mm", "z_mm", "yaw_deg")
    }
    given: dict[str, Any] = {
        "vehicle_id": job.vehicle_id,
        "procedure_id": job.procedure_id,
        "standard_uncertainty": SURE | sensors,
        "tape": FINE,
        "u_marking_mm": 0.3,
        **fields,
    }
    return SetupRequest(**given)


def moved(
    item: PlacedFixture, along_mm: float, lateral_mm: float, turn_deg: float
) -> Callable[[Point], Point]:
    """Return where a fixture's points come to stand when it is off by so much, and turned."""
    pose, aim = item.in_vehicle, radians(item.in_vehicle.yaw_deg - item.placement.yaw_deg)
    shift = (cos(aim) * along_mm - sin(aim) * lateral_mm, sin(aim) * along_mm + cos(aim) * lateral_mm)
    c, s = cos(radians(turn_deg)), sin(radians(turn_deg))

    def place(point: Point) -> Point:
        x, y = point[0] - pose.x_mm, point[1] - pose.y_mm
        return pose.x_mm + c * x - s * y + shift[0], pose.y_mm + s * x + c * y + shift[1]

    return place


def distances(
    setup: Setup, off: Mapping[str, tuple[float, float, float]] | None = None
) -> tuple[MeasuredDistance, ...]:
    """Return every distance of the setting-out as a tape would show it, to a tenth of a millimetre."""
    measured = []
    for stage in setup.stages:
        marks = {mark.name: mark for mark in stage.marks}
        for item in stage.placements:
            if item.setting_out is None:  # on a seat, where no tape comes
                continue
            place = moved(item, *(off or {}).get(item.id, (0.0, 0.0, 0.0)))
            for point in item.setting_out.points:
                x_mm, y_mm = place((point.x_mm, point.y_mm))
                for name in dict.fromkeys([*(tape.mark for tape in point.distances), *_check(point)]):
                    length = hypot(x_mm - marks[name].x_mm, y_mm - marks[name].y_mm)
                    measured.append(
                        MeasuredDistance(
                            placement=item.id, point=point.name, mark=name, distance_mm=round(length, 1)
                        )
                    )
    return tuple(measured)


def _check(point: Any) -> list[str]:
    return [point.check.mark] if point.check else []


def upright(setup: Setup, u_mm: float = 0.5, u_deg: float = 0.05) -> dict[str, Any]:
    """Return heights and tilts as they should be."""
    items = [item for stage in setup.stages for item in stage.placements]
    return {
        "heights": {item.id: MeasuredHeight(height_mm=item.in_vehicle.z_mm, u_mm=u_mm) for item in items},
        "tilts": {
            item.id: MeasuredTilt(
                pitch_deg=item.in_vehicle.pitch_deg, roll_deg=item.in_vehicle.roll_deg, u_deg=u_deg
            )
            for item in items
        },
    }


def as_set(
    client: Snapline,
    request: SetupRequest,
    off: Mapping[str, tuple[float, float, float]] | None = None,
    **fields: Any,
) -> VerifyRequest:
    """Return the verification of a setup that was set out as the service says, or off by so much."""
    setup = client.setups.compute(request)
    given = {"distances": distances(setup, off), **upright(setup), **fields}
    return VerifyRequest(**msgspec.structs.asdict(request), **given)
