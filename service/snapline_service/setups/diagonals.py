"""Equal diagonals: a symmetric fixture on the centreline is square when two distances are equal."""

from collections.abc import Iterator
from math import hypot, radians

import numpy as np

from snapline.wire.setup_setting_out import DiagonalCheck
from snapline_service.geometry.fixture_setting import Axis
from snapline_service.geometry.marks import Array
from snapline_service.geometry.tapes import printed_mm
from snapline_service.setups.figures import length, limit
from snapline_service.setups.ground import Ground
from snapline_service.setups.means import Means
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt

_MIRRORED_MM = 0.5
# Two tapes, each from a mark to the point of this index.
Tapes = tuple[tuple[str, int], tuple[str, int]]


def diagonals(one: Standing, found: Attempt, means: Means) -> DiagonalCheck | None:
    """Return two distances that must be equal, from marks on the left and on the right of the car.

    None unless the fixture stands symmetric on the centreline and both tapes are free.
    """
    ground, pair = found.ground, _mirrored(one, found.ground)
    if pair is None:
        return None
    for tapes in _candidates(one, found, *pair):
        if all(found.sees(mark, one.targets[index], ground) for mark, index in tapes):
            first, second = (_length(ground, mark, one.targets[index]) for mark, index in tapes)
            if abs(first - second) < _MIRRORED_MM:
                return _check(one, ground, tapes, first, means)
    return None


def _candidates(one: Standing, found: Attempt, left: int, right: int) -> Iterator[Tapes]:
    """Yield pairs of tapes: crosswise from the nearer wheels or from marks used anyway, else side by side."""
    end, way = ("front", "ahead") if one.item.in_vehicle.x_mm > 0 else ("rear", "behind")
    used = {mark for best in found.found if best for mark in best.marks}
    wheels = (f"{end} left wheel", f"{end} right wheel")
    made = (
        (f"{end} left offset mark", f"{end} right offset mark"),
        (f"left side mark {way}", f"right side mark {way}"),
    )
    if set(wheels) <= set(found.ground.joint.names):
        yield (wheels[0], right), (wheels[1], left)
    for marks in made:
        if set(marks) <= used:
            yield (marks[0], right), (marks[1], left)
    if set(wheels) <= set(found.ground.joint.names):
        yield (wheels[0], left), (wheels[1], right)


def _check(one: Standing, ground: Ground, tapes: Tapes, distance_mm: float, means: Means) -> DiagonalCheck:
    rows, weights = _difference(one, ground, tapes)
    u_tape_mm = means.tape.u_of_mm(distance_mm)
    permitted_mm = min(
        (abs(slope) * one.held.limits[axis] for axis, slope in rows.items() if axis in one.held.limits),
        default=None,
    )
    marks = (tapes[0][0], tapes[1][0])
    points = (one.names[tapes[0][1]], one.names[tapes[1][1]])
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
        u_mm=(float(weights @ ground.joint.covariance_mm2 @ weights) + 2.0 * u_tape_mm**2) ** 0.5,
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


def _difference(one: Standing, ground: Ground, tapes: Tapes) -> tuple[dict[Axis, float], Array]:
    """Return how the difference follows the fixture's lateral shift and yaw, and the errors of all marks."""
    slopes: dict[Axis, float] = {"lateral": 0.0, "yaw": 0.0}
    weights = np.zeros(2 * len(ground.joint.names))
    pose = one.item.in_vehicle
    for (mark, index), sign in zip(tapes, (1.0, -1.0), strict=True):
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
