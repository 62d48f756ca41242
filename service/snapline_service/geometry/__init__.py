"""Where things stand: pure geometry of placements, aim, reflectors and room, in mm and degrees.

Axes are those of ISO 8855: x forward, y left, z up, yaw positive counter-clockwise from above, pitch positive
nose down, roll positive left side up; the origin lies on the floor plane below the rear axle's midpoint.
"""

from snapline_service.geometry.aim import AimError, FloorTolerance, aim_error, floor_tolerance
from snapline_service.geometry.axes import body_point_in_parent, in_bay, normalised_deg, rotation
from snapline_service.geometry.dimension_lines import DimensionLine, Which, datum_point, dimension_line
from snapline_service.geometry.envelope import Extent, extent, footprint, vehicle_outline, wheel_centres
from snapline_service.geometry.placement import place
from snapline_service.geometry.plausibility import check
from snapline_service.geometry.reflector import CrossSection, cross_section, leg_for
from snapline_service.geometry.values import (
    BayPose,
    Contribution,
    Located,
    Offset,
    Placed,
    Placement,
    Point,
    Polygon,
    Pose,
    Position,
    Sensor,
    VehicleGeometry,
)

__all__ = [
    "AimError",
    "BayPose",
    "Contribution",
    "CrossSection",
    "DimensionLine",
    "Extent",
    "FloorTolerance",
    "Located",
    "Offset",
    "Placed",
    "Placement",
    "Point",
    "Polygon",
    "Pose",
    "Position",
    "Sensor",
    "VehicleGeometry",
    "Which",
    "aim_error",
    "body_point_in_parent",
    "check",
    "cross_section",
    "datum_point",
    "dimension_line",
    "extent",
    "floor_tolerance",
    "footprint",
    "in_bay",
    "leg_for",
    "normalised_deg",
    "place",
    "rotation",
    "vehicle_outline",
    "wheel_centres",
]
