"""Heights of a surveyed floor between its points: piecewise linear over Delaunay's triangles."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray
from shapely import MultiPoint
from shapely import Point as ShapelyPoint

from snapline_service.errors import InvalidValue
from snapline_service.geometry.axes import turned
from snapline_service.geometry.floor_points import THINNEST
from snapline_service.geometry.plausibility import require_length, require_not_negative
from snapline_service.geometry.values import BayPose, Point, Position

Array = NDArray[np.float64]

_ON_THE_EDGE = 1e-9  # of a triangle's size: a turned bay moves points by rounding


@dataclass(frozen=True, slots=True, eq=False)
class FloorHeights:
    """Heights in the order asked for, and their joint covariance from the levelling.

    Points in one triangle share its readings. What the floor does between surveyed points is not in it.
    """

    z_mm: Array
    covariance_mm2: Array


class FloorSurvey:
    """A levelled floor in bay axes; ``u_z_mm`` is the standard uncertainty of each reading.

    Raises InvalidValue for fewer than three points, for points on one line and for one that stands twice.
    """

    def __init__(self, points: Sequence[Position], u_z_mm: float) -> None:
        require_not_negative(u_z_mm, "/u_z_mm")
        for index, point in enumerate(points):
            for field in ("x_mm", "y_mm", "z_mm"):
                require_length(getattr(point, field), f"/survey/{index}/{field}")
        self._u_z_mm = u_z_mm
        self._heights: Array = np.array([point.z_mm for point in points])
        places = _spread([(point.x_mm, point.y_mm) for point in points])
        self._hull = MultiPoint(places).convex_hull
        self._centre: Array = places.mean(axis=0)  # near zero the triangulation is exact to rounding
        self._triangles = scipy.spatial.Delaunay(places - self._centre)

    def floor_correction(self, bay_pose: BayPose, points: Mapping[str, Point]) -> FloorHeights:
        """Return the floor's height at named points of the vehicle frame.

        Raises InvalidValue for the first point outside the surveyed area: heights are not extrapolated.
        """
        weights = np.zeros((len(points), len(self._heights)))
        for row, (name, point) in enumerate(points.items()):
            x_mm, y_mm = turned(point, bay_pose.heading_deg)
            where = np.array([bay_pose.x_mm + x_mm, bay_pose.y_mm + y_mm])
            corners, shares = self._corners(name, where)
            weights[row, corners] = shares
        return FloorHeights(weights @ self._heights, self._u_z_mm**2 * weights @ weights.T)

    def _corners(self, name: str, where: Array) -> tuple[Array, Array]:
        """Return the corners of the triangle that holds a point, and each corner's share in its height."""
        here = where - self._centre
        triangle = int(self._triangles.find_simplex(here, tol=_ON_THE_EDGE))
        if triangle < 0:
            outside_mm = self._hull.distance(ShapelyPoint(*where))
            raise InvalidValue(
                f"{name} stands {outside_mm:,.0f} mm outside the surveyed floor.",
                pointer="/survey",
                mend="Survey the floor there too: heights are not guessed beyond the outermost points.",
            )
        lift = self._triangles.transform[triangle]
        first_two = lift[:2] @ (here - lift[2])
        shares = np.append(first_two, 1.0 - first_two.sum())
        return self._triangles.simplices[triangle], shares


def _spread(places: Sequence[Point]) -> Array:
    """Return the places of at least three points that span an area."""
    if len(places) < 3:
        mend = "Level at least three points round the vehicle and the fixture."
        raise InvalidValue(f"A survey of {len(places)} points spans no area.", pointer="/survey", mend=mend)
    seen: dict[Point, int] = {}
    for index, place in enumerate(places):
        if place in seen:
            detail = f"Survey points {seen[place]} and {index} stand in the same place."
            raise InvalidValue(detail, pointer=f"/survey/{index}", mend="Give each point once.")
        seen[place] = index
    spread = np.array(places, dtype=float)
    greatest, least = np.linalg.svd(spread - spread.mean(axis=0), compute_uv=False)
    if least < THINNEST * greatest:
        mend = "Level points to either side of the line too."
        raise InvalidValue("The survey's points lie on one line.", pointer="/survey", mend=mend)
    return spread
