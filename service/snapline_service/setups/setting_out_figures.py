"""Figures of a setting-out for the answer: tapes, checks, the drawn line, equal diagonals, aim."""

from collections.abc import Iterator
from math import cos, degrees, hypot, inf, radians, sin, tan

import numpy as np

from snapline.wire.setup_setting_out import (
    CheckTape,
    DiagonalCheck,
    LineFigures,
    PointSettingOut,
    TapeDistance,
)
from snapline_service.geometry import Sensor
from snapline_service.geometry.marks import Array
from snapline_service.geometry.setting_out import Best, Check, distance_tolerances
from snapline_service.geometry.tapes import printed_mm
from snapline_service.setups import setting_out_words as words
from snapline_service.setups.figures import length, limit
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.marks import FRONT_MIDDLE, REAR_MIDDLE, Ground
from snapline_service.setups.means import Means
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt

K_95 = 1.959963984540054
SQUARE_DEG = 0.1  # standard uncertainty of a right angle by square or 3-4-5; common practice, no source
_ON_THE_LINE_MM = 0.05
_MIRRORED_MM = 0.5


def point_figures(one: Standing, found: Attempt, inputs: Inputs, means: Means) -> Iterator[PointSettingOut]:
    """Yield each point of a fixture with its tapes."""
    for name, target, best, reasons in zip(one.names, one.targets, found.found, found.reasons, strict=True):
        x_mm, y_mm = found.ground.joint.point(target)
        yield PointSettingOut(
            name=name,
            x_mm=x_mm,
            y_mm=y_mm,
            critical=one.critical,
            distances=_tapes(one, best, means) if best else (),
            check=_check(best.check, means) if best and best.check else None,
            side=_side(found.ground, best) if best else None,
            u_critical_mm=best and best.u_critical_mm,
            u_position_mm=best and best.u_position_mm,
            sin_angle=best and best.sin_angle,
            tolerance_critical_mm=_finite(one.tolerance.critical_mm),
            tolerance_other_mm=_finite(one.tolerance.other_mm),
            from_line=_from_line(one, found.ground, target, inputs, means),
            reasons=reasons,
        )


def aim_uncertainty(one: Standing, covariance: Array, sensor: Sensor) -> tuple[float, float | None]:
    """Return how surely the sensor sees the reference point: bearing and elevation [degrees].

    Elevation needs the uncertainty of the height, which no tape on the floor gives.
    """
    a = radians(one.sight_deg - one.aim_yaw_deg)
    along, lateral = one.held.rows["along"], one.held.rows["lateral"]
    across = (-sin(a) * along + cos(a) * lateral) / one.sight_mm
    u_yaw_deg = degrees(float(across @ covariance @ across) ** 0.5)
    if one.item.u_z_mm is None:
        return u_yaw_deg, None
    rise_mm = one.item.in_vehicle.z_mm - sensor.z_mm
    away = cos(a) * along + sin(a) * lateral
    squared = one.sight_mm**2 + rise_mm**2
    by_place = rise_mm**2 * float(away @ covariance @ away)
    u_elevation = (one.sight_mm**2 * one.item.u_z_mm**2 + by_place) ** 0.5 / squared
    return u_yaw_deg, degrees(u_elevation)


def diagonals(one: Standing, found: Attempt, means: Means) -> DiagonalCheck | None:
    """Return two distances that must be equal: crosswise from the wheel marks of the nearer axle.

    None unless the fixture stands symmetric on the centreline and both tapes are free.
    """
    ground, pair = found.ground, _mirrored(one, found.ground)
    axle = "front" if one.item.in_vehicle.x_mm > 0 else "rear"
    marks = (f"{axle} left wheel", f"{axle} right wheel")
    if pair is None or not set(marks) <= set(ground.joint.names):
        return None
    left, right = pair
    crossing = ((marks[0], right), (marks[1], left))
    if not all(found.sees(mark, one.targets[index], ground) for mark, index in crossing):
        return None
    rows, weights = _difference(one, ground, crossing)
    distance_mm = _length(ground, marks[0], one.targets[right])
    if abs(distance_mm - _length(ground, marks[1], one.targets[left])) > _MIRRORED_MM:
        return None
    u_tape_mm = means.tape.u_of_mm(distance_mm)
    u_mm = (float(weights @ ground.joint.covariance_mm2 @ weights) + 2.0 * u_tape_mm**2) ** 0.5
    permitted_mm = min(
        (abs(slope) * one.held.limits[axis] for axis, slope in rows.items() if axis in one.held.limits),
        default=None,
    )
    points = (one.names[right], one.names[left])
    text = length(distance_mm, means.units, whole=True)
    permitted_text = None if permitted_mm is None else limit(permitted_mm, means.units)
    return DiagonalCheck(
        marks=marks,
        points=points,
        distance_mm=distance_mm,
        printed_mm=printed_mm(distance_mm, means.units),
        text=text,
        permitted_mm=permitted_mm,
        permitted_text=permitted_text,
        u_mm=u_mm,
        words=_equal(marks, points, text, permitted_text),
    )


def _equal(marks: tuple[str, str], points: tuple[str, str], text: str, permitted: str | None) -> str:
    told = f"{marks[0]} to {points[0]} and {marks[1]} to {points[1]} are equal, about {text}" + (
        f"; if they differ by more than {permitted}, the fixture is off to a side or turned"
        if permitted
        else ""
    )
    return told[0].upper() + told[1:] + "."


def _mirrored(one: Standing, ground: Ground) -> tuple[int, int] | None:
    """Return the points farthest left and right if they are mirror images on the centreline."""
    at = [ground.joint.point(target) for target in one.targets]
    if len(at) < 2 or one.item.placement.aim_line != "centreline":
        return None
    left, right = max(range(len(at)), key=lambda k: at[k][1]), min(range(len(at)), key=lambda k: at[k][1])
    near = [k for k in range(len(at)) if abs(at[k][1] + at[left][1]) < _MIRRORED_MM]
    right = next((k for k in near if abs(at[k][0] - at[left][0]) < _MIRRORED_MM), right)
    alike = abs(at[left][0] - at[right][0]) < _MIRRORED_MM and abs(at[left][1] + at[right][1]) < _MIRRORED_MM
    return (left, right) if left != right and alike else None


def _difference(
    one: Standing, ground: Ground, crossing: tuple[tuple[str, int], tuple[str, int]]
) -> tuple[dict[str, float], Array]:
    """Return how the difference follows the fixture's lateral shift and yaw, and the errors of all marks."""
    slopes = {"lateral": 0.0, "yaw": 0.0}
    weights = np.zeros(2 * len(ground.joint.names))
    pose = one.item.in_vehicle
    for (mark, index), sign in zip(crossing, (1.0, -1.0), strict=True):
        (px, py), (mx, my) = ground.joint.point(one.targets[index]), ground.joint.point(mark)
        distance = hypot(px - mx, py - my)
        ex, ey = (px - mx) / distance, (py - my) / distance
        slopes["lateral"] += sign * ey
        slopes["yaw"] += sign * radians(ey * (px - pose.x_mm) - ex * (py - pose.y_mm))
        for name, factor in ((one.targets[index], sign), (mark, -sign)):
            at = 2 * ground.joint.index(name)
            weights[at : at + 2] += factor * np.array([ex, ey])
    return {axis: slope for axis, slope in slopes.items() if abs(slope) > 1e-6}, weights


def _length(ground: Ground, one: str, two: str) -> float:
    (ax, ay), (bx, by) = ground.joint.point(one), ground.joint.point(two)
    return hypot(bx - ax, by - ay)


def _tapes(one: Standing, best: Best, means: Means) -> tuple[TapeDistance, ...]:
    worst_mm, likely_mm = distance_tolerances(one.basis @ best.inverse, one.tolerance)
    limited = worst_mm < inf
    return tuple(
        TapeDistance(
            mark=mark,
            distance_mm=distance_mm,
            printed_mm=printed_mm(distance_mm, means.units),
            text=length(distance_mm, means.units, whole=True),
            tolerance_mm=worst_mm if limited else None,
            tolerance_95_mm=likely_mm if limited else None,
            tolerance_text=limit(worst_mm, means.units) if limited else None,
            u_mm=float(u_mm),
        )
        for mark, distance_mm, u_mm in zip(best.marks, best.distances_mm, best.u_tape_mm, strict=True)
    )


def _check(check: Check, means: Means) -> CheckTape:
    return CheckTape(
        mark=check.mark,
        distance_mm=check.distance_mm,
        printed_mm=printed_mm(check.distance_mm, means.units),
        text=length(check.distance_mm, means.units, whole=True),
        permitted_mm=K_95 * check.u_mm,
        permitted_text=limit(K_95 * check.u_mm, means.units),
        u_mm=check.u_mm,
    )


def _side(ground: Ground, best: Best) -> str:
    one, two = best.marks
    return words.side(best.target, (one, ground.joint.point(one)), (two, ground.joint.point(two)))


def _finite(value: float) -> float | None:
    return value if value < inf else None


def _from_line(
    one: Standing, ground: Ground, target: str, inputs: Inputs, means: Means
) -> LineFigures | None:
    """Return a point along and beside the aim line drawn through the middles of both axles.

    It starts at the bumper that the placement counts from, or else at the nearer axle.
    """
    aim_line = one.item.placement.aim_line
    if aim_line not in ("centreline", "thrust_line") or FRONT_MIDDLE not in ground.notes:
        return None
    yaw = radians(inputs.vehicle.thrust_yaw_deg if aim_line == "thrust_line" else 0.0)
    u, n = np.array([cos(yaw), sin(yaw)]), np.array([-sin(yaw), cos(yaw)])
    start, word = _start_of_line(one, ground)
    at = np.array(ground.joint.point(target))
    # Along counts from where the line passes level with the start, which is on the centreline itself.
    begins = np.array([ground.joint.point(start)[0], ground.joint.point(start)[0] * tan(yaw)])
    along_mm, offset_mm = float(u @ (at - begins)), float(n @ at)
    share = float(u @ at) / (inputs.vehicle.wheelbase_mm or inf)
    u_line_mm = _u(ground, n, {REAR_MIDDLE: 1.0 - share, FRONT_MIDDLE: share, target: -1.0})
    u_start_mm = _u(ground, u, {start: 1.0, target: -1.0})
    square_mm = offset_mm * radians(SQUARE_DEG)
    along_text = (
        f"{length(along_mm, means.units, whole=True)} {'ahead of' if along_mm > 0 else 'behind'} the {word}"
    )
    offset_text = _beside(offset_mm, aim_line.replace("_", " "), means)
    return LineFigures(
        along_mm=along_mm,
        along_text=along_text,
        offset_mm=offset_mm,
        offset_text=offset_text,
        u_along_mm=hypot(u_start_mm, means.tape.u_of_mm(abs(along_mm)), square_mm),
        u_offset_mm=hypot(u_line_mm, means.tape.u_of_mm(abs(offset_mm))),
        words=f"{along_text}, {offset_text}",
    )


def _start_of_line(one: Standing, ground: Ground) -> tuple[str, str]:
    bumper = one.item.placement.along.datum.replace("_", " ")
    if bumper in ground.notes and bumper.endswith("bumper"):
        return bumper, bumper
    axle = "front" if one.item.in_vehicle.x_mm > 0 else "rear"
    return f"{axle} axle middle", f"{axle} axle"


def _beside(offset_mm: float, line: str, means: Means) -> str:
    if abs(offset_mm) < _ON_THE_LINE_MM:
        return f"on the {line}"
    return (
        f"{length(offset_mm, means.units, whole=True)} {'left' if offset_mm > 0 else 'right'} of the {line}"
    )


def _u(ground: Ground, direction: Array, factors: dict[str, float]) -> float:
    weights = np.zeros(2 * len(ground.joint.names))
    for name, factor in factors.items():
        at = 2 * ground.joint.index(name)
        weights[at : at + 2] += factor * direction
    return float(max(weights @ ground.joint.covariance_mm2 @ weights, 0.0)) ** 0.5
