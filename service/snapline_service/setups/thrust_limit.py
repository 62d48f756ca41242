"""Whether a thrust line is turned further than the vehicle allows, which makes all aiming void."""

from snapline.wire.catalogue import VehicleDocument


def beyond_limit(vehicle: VehicleDocument, thrust_yaw_deg: float) -> str:
    """Return how far the thrust line is turned beyond the vehicle's limit, as a clause; nothing inside it."""
    limit_deg = vehicle.thrust_limit_deg
    if limit_deg is None or abs(thrust_yaw_deg) <= limit_deg:
        return ""
    side = "left" if thrust_yaw_deg > 0 else "right"
    return f"The thrust line is turned {abs(thrust_yaw_deg):g}° to the {side} and {limit_deg:g}° is the limit"
