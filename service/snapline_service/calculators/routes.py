"""HTTP of the calculators."""

import msgspec
from litestar import post
from litestar.params import JSONBody

from snapline.wire.geometry import (
    AimTolerance,
    AimToleranceRequest,
    PlacementAnswer,
    PlacementRequest,
    ReflectorAnswer,
    ReflectorRequest,
)
from snapline_service import cautions
from snapline_service.access.callers import needs
from snapline_service.calculators import as_set, bay_fit, drive_window, floor, setting_out
from snapline_service.geometry import check, cross_section, floor_tolerance, place
from snapline_service.setups.translation import bay_pose_of, geometry_of, placement_of, sensor_of


@post(
    "/v1/geometry/placement",
    operation_id="compute_placement",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_placement(data: JSONBody[PlacementRequest]) -> PlacementAnswer:
    """Work out where a fixture's reference point stands, with its uncertainty.

    A placement is a sentence: so far along an aim line from one datum, so far beside it from another, so high
    above a third. Datums that do not fix a point are refused with the pair that fails.
    """
    vehicle, placement, bay_pose = (
        geometry_of(data.vehicle),
        placement_of(data.placement),
        bay_pose_of(data.bay_pose),
    )
    check(vehicle, placement, bay_pose=bay_pose)
    placed = place(vehicle, placement, bay_pose=bay_pose, standard_uncertainty=data.standard_uncertainty)
    answer = msgspec.convert(placed, PlacementAnswer, from_attributes=True)
    return msgspec.structs.replace(answer, cautions=cautions.for_work([], [], []))


@post(
    "/v1/geometry/reflector",
    operation_id="compute_reflector",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_reflector(data: JSONBody[ReflectorRequest]) -> ReflectorAnswer:
    """Work out a radar reflector's peak cross-section.

    It holds on boresight in the far field; a few metres from a sensor it is a nominal figure.
    """
    found = cross_section(
        data.shape,
        data.frequency_ghz,
        leg_mm=data.leg_mm,
        width_mm=data.width_mm,
        height_mm=data.height_mm,
    )
    return msgspec.convert(found, ReflectorAnswer, from_attributes=True)


@post(
    "/v1/geometry/aim-tolerance",
    operation_id="compute_aim_tolerance",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_aim_tolerance(data: JSONBody[AimToleranceRequest]) -> AimTolerance:
    """Turn a sensor's allowed aim error into the floor tolerance on each axis by itself.

    Each is the smaller of the two senses; null is an axis along which the allowance is never used up.
    """
    sensor = sensor_of(data.sensor)
    found = floor_tolerance(
        sensor,
        data.nominal,
        aim_yaw_deg=sensor.yaw_deg,
        allowed_yaw_deg=data.allowed_yaw_deg,
        allowed_elevation_deg=data.allowed_elevation_deg,
    )
    return msgspec.convert(found, AimTolerance, from_attributes=True)


HANDLERS = [
    compute_placement,
    compute_reflector,
    compute_aim_tolerance,
    *as_set.HANDLERS,
    *bay_fit.HANDLERS,
    *drive_window.HANDLERS,
    *floor.HANDLERS,
    *setting_out.HANDLERS,
]
