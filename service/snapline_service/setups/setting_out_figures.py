"""Figures of a setting-out for the answer: tapes, checks, the drawn line, equal diagonals, aim."""

from collections.abc import Iterator
from math import cos, degrees, hypot, inf, radians, sin, tan

import numpy as np

from snapline.wire.setup_setting_out import (
    CheckTape,
    LineFigures,
    PointSettingOut,
    TapeDistance,
)
from snapline_service.geometry import Sensor
from snapline_service.geometry.fixture_setting import u_of
from snapline_service.geometry.marks import Array
from snapline_service.geometry.setting_out import Best, Check, Tolerance, distance_tolerances
from snapline_service.geometry.tapes import printed_mm
from snapline_service.setups import setting_out_words as words
from snapline_service.setups.figures import length, limit
from snapline_service.setups.ground import Ground, mark_words
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.means import Means
from snapline_service.setups.standing import Standing
from snapline_service.setups.strung_marks import line_marks
from snapline_service.setups.trials import Attempt

K_95 = 1.959963984540054
SQUARE_DEG = 0.1  # standard uncertainty of a right angle by square or 3-4-5; common practice, no source
_ON_THE_LINE_MM = 0.05


def point_figures(one: Standing, found: Attempt, inputs: Inputs, means: Means) -> Iterator[PointSettingOut]:
    """Yield each point of a fixture with its tapes."""
    tolerance, critical = one.tolerance(found.basis), one.critical(found.basis)
    for name, target, best, reasons in zip(one.names, one.targets, found.found, found.reasons, strict=True):
        x_mm, y_mm = found.ground.joint.point(target)
        yield PointSettingOut(
            name=name,
            x_mm=x_mm,
            y_mm=y_mm,
            critical=critical,
            distances=_tapes(found.basis @ best.inverse, best, tolerance, means) if best else (),
            check=_check(best.check, means) if best and best.check else None,
            side=_side(found.ground, best) if best else None,
            u_critical_mm=best.u_critical_mm if best else None,
            u_position_mm=best.u_position_mm if best else None,
            sin_angle=best.sin_angle if best else None,
            tolerance_critical_mm=_finite(tolerance.critical_mm),
            tolerance_other_mm=_finite(tolerance.other_mm),
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
    u_yaw_deg = degrees(u_of(across, covariance))
    if one.item.u_z_mm is None:
        return u_yaw_deg, None
    rise_mm = one.item.in_vehicle.z_mm - sensor.z_mm
    away = cos(a) * along + sin(a) * lateral
    squared = one.sight_mm**2 + rise_mm**2
    u_elevation = hypot(one.sight_mm * one.item.u_z_mm, rise_mm * u_of(away, covariance)) / squared
    return u_yaw_deg, degrees(u_elevation)


def _tapes(by_axis: Array, best: Best, tolerance: Tolerance, means: Means) -> tuple[TapeDistance, ...]:
    worst_mm, likely_mm = distance_tolerances(by_axis, tolerance)
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
    """Return a point along and beside the aim line, drawn through its marks ahead of the car and behind it.

    It starts at the bumper that the placement counts from, or else at the nearer of those marks.
    """
    aim_line = one.item.placement.aim_line
    through = line_marks(ground, aim_line) if aim_line in ("centreline", "thrust_line") else None
    if through is None:
        return None
    yaw = radians(inputs.vehicle.thrust_yaw_deg if aim_line == "thrust_line" else 0.0)
    u, n = np.array([cos(yaw), sin(yaw)]), np.array([-sin(yaw), cos(yaw)])
    start, word = _start_of_line(one, ground, through)
    at = np.array(ground.joint.point(target))
    # Along counts from where the line passes level with the start, which a bumper's middle is beside.
    begins = np.array([ground.joint.point(start)[0], ground.joint.point(start)[0] * tan(yaw)])
    along_mm, offset_mm = float(u @ (at - begins)), float(n @ at)
    behind, ahead = (float(u @ np.array(ground.joint.point(mark))) for mark in through)
    share = (float(u @ at) - behind) / (ahead - behind)
    u_line_mm = _u(ground, n, {through[0]: 1.0 - share, through[1]: share, target: -1.0})
    u_start_mm = _u(ground, u, {start: 1.0, target: -1.0})
    square_mm = offset_mm * radians(SQUARE_DEG)
    along_text = (
        f"{length(along_mm, means.units, whole=True)} {'ahead of' if along_mm > 0 else 'behind'} {word}"
    )
    offset_text = _beside(offset_mm, aim_line.replace("_", " "), means)
    return LineFigures(
        marks=through,
        along_mm=along_mm,
        along_text=along_text,
        offset_mm=offset_mm,
        offset_text=offset_text,
        u_along_mm=hypot(u_start_mm, means.tape.u_of_mm(abs(along_mm)), square_mm),
        u_offset_mm=hypot(u_line_mm, means.tape.u_of_mm(abs(offset_mm))),
        words=f"{along_text}, {offset_text}",
    )


def _start_of_line(one: Standing, ground: Ground, through: tuple[str, str]) -> tuple[str, str]:
    """Return the mark from which along is counted, and its name in words."""
    bumper = one.item.placement.along.datum.replace("_", " ")
    if bumper in ground.notes and bumper.endswith("bumper"):
        return bumper, f"the {bumper}"
    nearer = through[one.item.in_vehicle.x_mm > 0]
    return nearer, mark_words(ground.notes, nearer)


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
    return u_of(weights, ground.joint.covariance_mm2)
