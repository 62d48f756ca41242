"""HTTP of the floor."""

from collections.abc import Sequence
from statistics import fmean, stdev

import msgspec
import numpy as np
from litestar import post
from litestar.params import JSONBody

from snapline.wire.floor import (
    Din18202,
    DinRow,
    E1155mLine,
    FloorAnswer,
    FloorRequest,
    FloorTilt,
    FloorUncertainty,
    LevelShift,
    PairOfPoints,
    RoomPoint,
)
from snapline_service.access.callers import needs
from snapline_service.geometry.flatness import Zone, minimum_zone
from snapline_service.geometry.floor import FloorFigures, on_floor
from snapline_service.geometry.floor_points import WHEELS, Contact
from snapline_service.geometry.floor_tolerances import curvatures_mm, din_18202
from snapline_service.geometry.values import Located, Position


@post(
    "/v1/geometry/floor",
    operation_id="compute_floor",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_floor(data: JSONBody[FloorRequest]) -> FloorAnswer:
    """Correct a target's height for a floor that is not level or not flat.

    The vehicle stands on the plane of its tyre contacts and the target has its height above that plane; the
    fixture stands on its feet and is set plumb above them.
    """
    upwards = 1.0 if data.readings == "height" else -1.0
    contacts = {
        name: Contact(wheel.x_mm, wheel.y_mm, upwards * wheel.z_mm, wheel.rate)
        for name, wheel in ((name, getattr(data.wheels, name)) for name in WHEELS)
    }
    feet = [Position(foot.x_mm, foot.y_mm, upwards * foot.z_mm) for foot in data.feet]
    target = Position(data.target.x_mm, data.target.y_mm, data.target.z_mm)
    points: list[Located] = [*contacts.values(), *feet]
    covariance = None if data.u_z_mm is None else data.u_z_mm**2 * np.eye(len(points))
    value, u = on_floor(contacts, feet, target, covariance)
    zone = minimum_zone(points)
    return FloorAnswer(
        vehicle_pitch_deg=value.vehicle_pitch_deg,
        vehicle_roll_deg=value.vehicle_roll_deg,
        target_in_room=_room_point(value.target_in_room),
        height_setting_mm=value.height_setting_mm,
        height_error_if_ignored_mm=value.height_error_if_ignored_mm,
        slope_mm_per_m=value.slope_mm_per_m,
        warp_mm=value.warp_mm,
        flatness_mm=zone.band_mm,
        u=None if u is None or data.u_z_mm is None else _uncertainty(u, zone, data.u_z_mm),
        horizontal_shift=LevelShift(
            x_mm=value.target_in_room.x_mm - target.x_mm, y_mm=value.target_in_room.y_mm - target.y_mm
        ),
        fixture_tilt=_tilt(value),
        din_18202=None if data.din_18202_row is None else _din_18202(data.din_18202_row, points, zone),
        e1155m_lines=tuple(_line([upwards * z_mm for z_mm in line]) for line in data.e1155m_lines_mm),
    )


def _room_point(point: Position) -> RoomPoint:
    return msgspec.convert(point, RoomPoint, from_attributes=True)


def _tilt(figures: FloorFigures) -> FloorTilt | None:
    return msgspec.convert(figures.fixture_tilt, FloorTilt | None, from_attributes=True)


def _uncertainty(u: FloorFigures, zone: Zone, u_z_mm: float) -> FloorUncertainty:
    return FloorUncertainty(
        vehicle_pitch_deg=u.vehicle_pitch_deg,
        vehicle_roll_deg=u.vehicle_roll_deg,
        target_in_room=_room_point(u.target_in_room),
        height_setting_mm=u.height_setting_mm,
        height_error_if_ignored_mm=u.height_error_if_ignored_mm,
        slope_mm_per_m=u.slope_mm_per_m,
        warp_mm=u.warp_mm,
        flatness_mm=u_z_mm * float(np.linalg.norm(zone.band_per_height)),
        fixture_tilt=_tilt(u),
    )


def _din_18202(row: DinRow, points: Sequence[Located], zone: Zone) -> Din18202:
    names = [*WHEELS, *(f"foot {number}" for number in range(1, len(points) - len(WHEELS) + 1))]
    pairs = tuple(
        PairOfPoints(
            points=(names[pair.first], names[pair.second]),
            distance_mm=pair.distance_mm,
            limit_mm=pair.limit_mm,
            deviation_mm=pair.deviation_mm,
            met=pair.met,
        )
        for pair in din_18202(row, points, zone)
    )
    return Din18202(row=row, met=all(pair.met for pair in pairs), pairs=pairs)


def _line(heights_mm: Sequence[float]) -> E1155mLine:
    found = curvatures_mm(heights_mm)
    spread = stdev(found) if len(found) > 1 else None
    return E1155mLine(curvatures_mm=found, mean_mm=fmean(found), standard_deviation_mm=spread)


HANDLERS = [compute_floor]
