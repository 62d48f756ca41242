"""Points of a placed fixture on the floor, with what they are made of."""

from collections.abc import Mapping
from math import radians

from snapline_service.geometry.datums import DatumPoint, Measured
from snapline_service.geometry.equations import sensitivities, solve
from snapline_service.geometry.values import Placement, Point, VehicleGeometry


def floor_points(
    vehicle: VehicleGeometry, placement: Placement, arms_mm: Mapping[str, Point]
) -> dict[str, DatumPoint]:
    """Return points at arms from a placement's reference point [vehicle frame], with slopes of the vehicle.

    The distances of the placement itself are what the tapes set: their uncertainty is the tapes' and not an
    input here. Raises what ``place`` raises.
    """
    solution = solve(vehicle, placement)
    slopes = {
        key: slope for key, slope in sensitivities(solution).items() if not key.startswith("placement.")
    }
    turning = dict(solution.aim.yaw.slopes)
    x_mm, y_mm = solution.point
    return {
        name: DatumPoint(
            Measured(x_mm + arm_x, _turned(slopes, turning, 0, -radians(arm_y))),
            Measured(y_mm + arm_y, _turned(slopes, turning, 1, radians(arm_x))),
        )
        for name, (arm_x, arm_y) in arms_mm.items()
    }


def _turned(
    slopes: Mapping[str, Point], turning: Mapping[str, float], axis: int, per_degree_mm: float
) -> tuple[tuple[str, float], ...]:
    keys = dict.fromkeys([*slopes, *turning])
    found = ((key, slopes.get(key, (0.0, 0.0))[axis] + per_degree_mm * turning.get(key, 0.0)) for key in keys)
    return tuple(found)
