"""The two linear equations of a placement sentence, their solution and its sensitivity to every input.

With a the direction of the aim line, u = (cos a, sin a) and n = (-sin a, cos a):

    along     u . p = u . D + d
    lateral   n . p = n . Q + l     or, from the centreline,  y = +l (cos a > 0),  y = -l (cos a < 0)

The second form keeps 'positive to the left of the aim direction' for a line of sight that points rearward.
"""

from math import copysign, radians
from typing import NamedTuple

from snapline_service.errors import DatumsDoNotFixAPoint
from snapline_service.geometry.datums import (
    AIM_LINES,
    ALONG_DATUMS,
    LATERAL_DATUMS,
    LINE_X_TERMS,
    ORIGIN,
    AimLine,
    DatumPoint,
    aim_line,
    crossing,
    point_datum,
    require_known,
    sum_of_dimensions,
)
from snapline_service.geometry.values import Placement, Point, VehicleGeometry

MIN_DETERMINANT = 0.05


class Solution(NamedTuple):
    """The point and what it was found from, in the vehicle frame [mm].

    ``lateral_axis`` is the unit vector along which the lateral distance counts; it turns with the aim line
    unless the lateral datum is the centreline.
    """

    point: Point
    aim: AimLine
    along: DatumPoint
    lateral: DatumPoint
    lateral_axis: Point
    axis_turns: bool

    @property
    def determinant(self) -> float:
        """Return the determinant of the two equations: 1, or |cos a| from the centreline."""
        return self.aim.cos * self.lateral_axis[1] - self.aim.sin * self.lateral_axis[0]


def solve(vehicle: VehicleGeometry, placement: Placement) -> Solution:
    """Find the reference point of a placement in the vehicle frame.

    Raises UnknownName, DatumsDoNotFixAPoint or MissingDimension.
    """
    require_known(vehicle, placement.aim_line, AIM_LINES, "/placement/aim_line")
    require_known(vehicle, placement.along.datum, ALONG_DATUMS, "/placement/along/datum")
    require_known(vehicle, placement.lateral.datum, LATERAL_DATUMS, "/placement/lateral/datum")
    aim = aim_line(vehicle, placement.aim_line)
    _require_a_point(aim, placement)

    along = _along_datum(vehicle, aim, placement.along.datum)
    lateral, axis = _lateral_datum(vehicle, aim, placement.lateral.datum)
    axis_turns = placement.lateral.datum != "centreline"
    unsolved = Solution((0.0, 0.0), aim, along, lateral, axis, axis_turns)
    first = aim.cos * along.x.value + aim.sin * along.y.value + placement.along.distance_mm
    second = axis[0] * lateral.x.value + axis[1] * lateral.y.value + placement.lateral.distance_mm
    return unsolved._replace(point=_solve_2x2(unsolved, first, second))


def sensitivities(solution: Solution) -> dict[str, Point]:
    """Return d(x, y) / d(input) for every input that the point depends on.

    Implicit differentiation: with the equations E(p, input) = 0, dp = -(dE/dp)^-1 dE/d(input). Slopes with
    respect to an angle are per degree.
    """
    aim, axis = solution.aim, solution.lateral_axis
    right_sides: dict[str, list[float]] = {
        "placement.along.distance_mm": [1.0, 0.0],
        "placement.lateral.distance_mm": [0.0, 1.0],
    }

    def add(slopes: tuple[tuple[str, float], ...], first: float, second: float) -> None:
        for key, slope in slopes:
            sides = right_sides.setdefault(key, [0.0, 0.0])
            sides[0] += first * slope
            sides[1] += second * slope

    add(solution.along.x.slopes, aim.cos, 0.0)
    add(solution.along.y.slopes, aim.sin, 0.0)
    add(solution.lateral.x.slopes, 0.0, axis[0])
    add(solution.lateral.y.slopes, 0.0, axis[1])
    if aim.can_turn:
        add(aim.yaw.slopes, *_turning(solution))
    return {key: _solve_2x2(solution, *sides) for key, sides in right_sides.items()}


def _solve_2x2(solution: Solution, first: float, second: float) -> Point:
    c, s = solution.aim.cos, solution.aim.sin
    axis_x, axis_y = solution.lateral_axis
    det = solution.determinant
    return (axis_y * first - s * second) / det, (c * second - axis_x * first) / det


def _turning(solution: Solution) -> Point:
    """Return how both right sides change per degree of the aim line, datums held: du/da = n, dn/da = -u."""
    x, y = solution.point
    c, s = solution.aim.cos, solution.aim.sin
    first = c * (solution.along.y.value - y) - s * (solution.along.x.value - x)
    if not solution.axis_turns:
        return radians(first), 0.0
    second = c * (x - solution.lateral.x.value) + s * (y - solution.lateral.y.value)
    return radians(first), radians(second)


def _along_datum(vehicle: VehicleGeometry, aim: AimLine, datum: str) -> DatumPoint:
    if datum in LINE_X_TERMS:
        return crossing(aim, sum_of_dimensions(vehicle, LINE_X_TERMS[datum]))
    return point_datum(vehicle, datum, need_y=aim.can_turn)


def _lateral_datum(vehicle: VehicleGeometry, aim: AimLine, datum: str) -> tuple[DatumPoint, Point]:
    if datum == "centreline":
        return ORIGIN, (0.0, copysign(1.0, aim.cos))
    left_of_aim = (-aim.sin, aim.cos)
    if datum == "aim_line":
        return aim.through, left_of_aim
    return point_datum(vehicle, datum, need_x=aim.can_turn), left_of_aim


def _require_a_point(aim: AimLine, placement: Placement) -> None:
    if abs(aim.cos) >= MIN_DETERMINANT:
        return
    why = f"the aim line points {aim.yaw.value:g} degrees from the centreline (|det| < {MIN_DETERMINANT:g})"
    pair = f"aim_line '{placement.aim_line}' with"
    if placement.along.datum in LINE_X_TERMS:
        raise DatumsDoNotFixAPoint(
            f"{pair} along datum '{placement.along.datum}' does not fix a point: {why}.",
            pointer="/placement/along/datum",
            mend=f"Count along from '{placement.aim_line}', another sensor or a wheel.",
        )
    if placement.lateral.datum == "centreline":
        raise DatumsDoNotFixAPoint(
            f"{pair} lateral datum 'centreline' does not fix a point: {why}.",
            pointer="/placement/lateral/datum",
            mend="Count lateral from 'aim_line', a sensor or a wheel.",
        )
