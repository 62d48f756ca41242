"""What a plan drawing needs to show from where a distance is counted, in the vehicle frame."""

from typing import Literal, NamedTuple

from snapline_service.geometry.datums import LINE_X_TERMS, point_datum
from snapline_service.geometry.equations import Solution, solve
from snapline_service.geometry.values import Placement, Point, VehicleGeometry

Which = Literal["along", "lateral"]


class DimensionLine(NamedTuple):
    """A measured distance as drawn: the datum itself, and the two ends of the line that shows the distance.

    ``start`` is level with the datum, ``end`` level with the reference point.
    """

    datum: Point
    start: Point
    end: Point


def datum_point(vehicle: VehicleGeometry, placement: Placement, which: Which) -> Point:
    """Return the point from which the along or lateral distance is counted.

    A wheel or sensor is itself; a bumper or axle is the point where the aim line crosses it; the aim line or
    centreline as lateral datum is the point of it that the distance to the reference point starts from.
    Raises what ``place`` raises.
    """
    return dimension_line(vehicle, placement, which).datum


def dimension_line(vehicle: VehicleGeometry, placement: Placement, which: Which) -> DimensionLine:
    """Return the datum and the ends of the line along which a distance is measured.

    Along runs from the datum in the aim direction; lateral ends in the reference point. Raises what ``place``
    raises.
    """
    solution = solve(vehicle, placement)
    return (
        _along(vehicle, placement, solution) if which == "along" else _lateral(vehicle, placement, solution)
    )


def _along(vehicle: VehicleGeometry, placement: Placement, solution: Solution) -> DimensionLine:
    if placement.along.datum in LINE_X_TERMS:
        datum = (solution.along.x.value, solution.along.y.value)
    else:
        datum = _physical_point(vehicle, placement.along.datum)
    distance_mm, aim = placement.along.distance_mm, solution.aim
    return DimensionLine(datum, datum, (datum[0] + distance_mm * aim.cos, datum[1] + distance_mm * aim.sin))


def _lateral(vehicle: VehicleGeometry, placement: Placement, solution: Solution) -> DimensionLine:
    (x, y), (axis_x, axis_y) = solution.point, solution.lateral_axis
    distance_mm = placement.lateral.distance_mm
    start = (x - distance_mm * axis_x, y - distance_mm * axis_y)
    if placement.lateral.datum in ("aim_line", "centreline"):
        return DimensionLine(start, start, solution.point)
    return DimensionLine(_physical_point(vehicle, placement.lateral.datum), start, solution.point)


def _physical_point(vehicle: VehicleGeometry, datum: str) -> Point:
    point = point_datum(vehicle, datum)
    return point.x.value, point.y.value
