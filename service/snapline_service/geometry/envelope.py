"""The vehicle seen from above, footprints beside it, and the room that they take together."""

from collections.abc import Iterable
from dataclasses import dataclass

from snapline_service.geometry.axes import turned
from snapline_service.geometry.datums import (
    LINE_X_TERMS,
    WHEEL_TERMS,
    dimension_mm,
    point_datum,
    sum_of_dimensions,
)
from snapline_service.geometry.values import Point, Polygon, Pose, VehicleGeometry


@dataclass(frozen=True, slots=True)
class Extent:
    """An upright box about everything, in the frame of its points; height is None when nobody gave one."""

    x_min_mm: float
    x_max_mm: float
    y_min_mm: float
    y_max_mm: float
    height_mm: float | None = None

    @property
    def length_mm(self) -> float:
        """Return the room needed along x."""
        return self.x_max_mm - self.x_min_mm

    @property
    def width_mm(self) -> float:
        """Return the room needed along y."""
        return self.y_max_mm - self.y_min_mm


def vehicle_outline(vehicle: VehicleGeometry) -> Polygon:
    """Return the rectangle round the body, counter-clockwise from the rear right, in the vehicle frame.

    Raises MissingDimension for wheelbase, an overhang or width.
    """
    front_mm = sum_of_dimensions(vehicle, LINE_X_TERMS["front_bumper"]).value
    rear_mm = sum_of_dimensions(vehicle, LINE_X_TERMS["rear_bumper"]).value
    half_mm = dimension_mm(vehicle, "width_mm") / 2
    return (rear_mm, -half_mm), (front_mm, -half_mm), (front_mm, half_mm), (rear_mm, half_mm)


def wheel_centres(vehicle: VehicleGeometry) -> dict[str, Point]:
    """Return the wheel centres at half track, by datum name, in the vehicle frame.

    Raises MissingDimension for wheelbase or a track.
    """
    wheels = {name: point_datum(vehicle, name) for name in WHEEL_TERMS}
    return {name: (wheel.x.value, wheel.y.value) for name, wheel in wheels.items()}


def footprint(body_polygon: Iterable[Point], pose: Pose) -> Polygon:
    """Return a polygon of the body frame in the frame of the pose; only its yaw turns a footprint."""
    points = (turned(point, pose.yaw_deg) for point in body_polygon)
    return tuple((pose.x_mm + x_mm, pose.y_mm + y_mm) for x_mm, y_mm in points)


def extent(polygons: Iterable[Polygon], heights_mm: Iterable[float] = ()) -> Extent:
    """Return the extent of polygons, for example the vehicle's outline and footprints, in their common frame.

    ``heights_mm`` are the tops of whatever stands there; the greatest counts. There must be a point.
    """
    points = [point for polygon in polygons for point in polygon]
    xs_mm, ys_mm = [x_mm for x_mm, _ in points], [y_mm for _, y_mm in points]
    return Extent(min(xs_mm), max(xs_mm), min(ys_mm), max(ys_mm), max(heights_mm, default=None))
