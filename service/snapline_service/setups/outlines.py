"""Outlines on the floor that belong to a placement."""

from snapline.wire.catalogue import ClearZone
from snapline_service import geometry
from snapline_service.geometry import Polygon, Pose


def clear_zone(zone: ClearZone, pose: Pose) -> Polygon:
    """Return the corners of a clear zone about a reference point, in the vehicle frame."""
    corners = (
        (zone.facing_mm, zone.left_mm),
        (-zone.behind_mm, zone.left_mm),
        (-zone.behind_mm, -zone.right_mm),
        (zone.facing_mm, -zone.right_mm),
    )
    return geometry.footprint(corners, pose)
