"""Readings of the car that are not themselves inputs of a placement: rear toe and the tyre's width."""

from msgspec.structs import replace

from snapline.wire.catalogue import VehicleDocument
from snapline.wire.setups import SetupRequest
from snapline_service import plausible
from snapline_service.errors import InvalidValue
from snapline_service.faults import pointer
from snapline_service.geometry.thrust_line import from_rear_toe
from snapline_service.geometry.vehicle_marks import TYRE_WIDTH

_THRUST = "vehicle.thrust_yaw_deg"


def with_rear_toe(request: SetupRequest) -> SetupRequest:
    """Return the request with the thrust line that its rear toe gives, in the sense of ISO 8855.

    Raises InvalidValue if the thrust line, or its uncertainty, is given as well.
    """
    toe = request.rear_toe
    if toe is None:
        return request
    line = from_rear_toe(toe.left_deg, toe.right_deg, toe.u_deg)
    uncertainty = request.standard_uncertainty
    if line.u_deg is not None:
        _require_once(_THRUST not in uncertainty, "standard_uncertainty")
        uncertainty = {**uncertainty, _THRUST: line.u_deg}
    _require_once(_THRUST not in request.measured, "measured")
    measured = {**request.measured, _THRUST: line.thrust_yaw_deg}
    return replace(request, measured=measured, standard_uncertainty=uncertainty)


def _require_once(once: bool, field: str) -> None:
    if not once:
        raise InvalidValue(
            f"rear_toe and {field} '{_THRUST}' both give the thrust line.",
            pointer=pointer([field, _THRUST]),
            mend="Give one of the two: the toe of both rear wheels, or the thrust line.",
        )


def tyre_width(vehicle: VehicleDocument, request: SetupRequest) -> tuple[float | None, float | None]:
    """Return the tyre's width as measured or from the catalogue, and how surely it is known.

    Raises InvalidValue for a measurement that cannot be.
    """
    known_mm = vehicle.dimensions.tyre_width_mm
    width_mm = request.measured.get(TYRE_WIDTH, known_mm)
    u_mm = request.standard_uncertainty.get(TYRE_WIDTH, vehicle.standard_uncertainty.get(TYRE_WIDTH))
    if width_mm is not None and not plausible.is_dimension("tyre_width_mm", width_mm):
        low, high = plausible.RANGES_MM["tyre_width_mm"]
        raise InvalidValue(
            f"A tyre cannot be {width_mm:,g} mm wide.",
            pointer=pointer(["measured", TYRE_WIDTH]),
            mend=f"Measure across the side walls, in millimetres: {low:g} to {high:g} mm is usual.",
        )
    return width_mm, u_mm
