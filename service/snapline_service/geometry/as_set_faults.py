"""Measurements from which no pose follows are refused: which one, and what to measure instead."""

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import dist, sqrt

import numpy as np

from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.geometry.as_set_distances import Distances
from snapline_service.geometry.as_set_slips import agreeing_without, without
from snapline_service.geometry.as_set_values import Body, Distance
from snapline_service.geometry.least_squares import Adjustment
from snapline_service.geometry.marks import Marks
from snapline_service.geometry.names import nearest_name

# Beyond this the slopes of a pose are no longer straight lines and the uncertainty means nothing.
_COARSEST_YAW_DEG = 30.0
_WORST_CONDITION = 1e4  # a millimetre on a tape would be metres on the floor
# Distances that share their errors this fully are one distance.
_LEAST_INDEPENDENCE = 1e-6
_AGREE = 0.05  # the level at which the distances without one are asked whether they agree
# A triangle counts as open when it lacks more than this many standard deviations.
_SIGMAS = 4.13


def require_usable(marks: Marks, body: Body, distances: Sequence[Distance]) -> None:
    """Raise UnknownName or InvalidValue for a mark or foot that is not there and for too few distances."""
    for row, one in enumerate(distances):
        if one.mark not in marks.names:
            raise UnknownName(
                f"There is no mark '{one.mark}'.",
                pointer=f"/observations/{row}/mark",
                mend=nearest_name(one.mark, marks.names),
            )
        if not 0 <= one.foot < len(body.feet):
            raise InvalidValue(
                f"There is no foot {one.foot}.",
                pointer=f"/observations/{row}/foot",
                mend=f"Feet are counted from 0 to {len(body.feet) - 1}.",
            )
    if len(body.feet) < 2:
        raise InvalidValue(
            "One foot has no direction, so the yaw cannot be told.",
            pointer="/feet",
            mend="Give at least two feet, far apart, and distances to both.",
        )
    if _apart_mm(body, distances) == 0.0:
        measured = {one.foot for one in distances}
        missing = next((body.name(foot) for foot in range(len(body.feet)) if foot not in measured), None)
        raise InvalidValue(
            f"All distances go to one point, {body.name(min(measured))}, so the yaw cannot be told.",
            pointer="/observations" if missing else "/feet",
            mend=f"Measure to {missing} as well." if missing else "Give feet that are apart.",
        )
    require_enough(body, distances)


def require_enough(body: Body, distances: Sequence[Distance]) -> None:
    """Raise InvalidValue for too few distances, or too few marks, to fix a body."""
    needed = 2 if body.yaw_known else 3
    if len(distances) < needed:
        what = "place" if body.yaw_known else "place and a direction"
        raise InvalidValue(
            f"{len(distances)} {'distance' if len(distances) == 1 else 'distances'} cannot fix a {what}.",
            pointer="/observations",
            mend=f"Give at least {needed}, and one more to check them.",
        )
    if len({one.mark for one in distances}) == 1:
        raise InvalidValue(
            f"All distances are from {distances[0].mark}, and the fixture can circle about it.",
            pointer="/observations",
            mend="Measure from a second mark as well.",
        )


def require_independent(model: Distances, distances: Sequence[Distance]) -> None:
    """Raise InvalidValue where distances without an uncertainty of their own only repeat each other."""
    covariance = model.covariance(model.start)
    u = np.sqrt(np.diag(covariance))
    scaled = covariance / np.outer(u, u) if u.all() else np.zeros_like(covariance)
    if np.linalg.eigvalsh(scaled)[0] > _LEAST_INDEPENDENCE:
        return
    exact = next((row for row, one in enumerate(distances) if one.u_mm == 0.0), 0)
    raise InvalidValue(
        "A distance without uncertainty cannot be weighed against the others.",
        pointer=f"/observations/{exact}/u_mm",
        mend="Give the standard uncertainty of the tape, for example 1 mm.",
    )


def require_fixed(fitted: Adjustment, marks: Marks, body: Body, distances: Sequence[Distance]) -> None:
    """Raise InvalidValue unless the distances fix the pose."""
    exact = fitted.dof > 0 or fitted.chi2 < 1e-6  # three distances that can be right leave nothing over
    if fitted.settled and exact and fitted.condition < _WORST_CONDITION:
        _require_yaw(fitted, body, distances)
        return
    for row, text in contradictions(marks, body, distances):
        slips = [*agreeing_without(range(len(distances)), _AGREE, without(marks, [body], distances))]
        if len(slips) == 1:
            name = f"{distances[slips[0]].mark} to {body.name(distances[slips[0]].foot)}"
            mend = f"Measure {name} again: without it the others agree."
            raise InvalidValue(text, pointer=f"/observations/{slips[0]}/distance_mm", mend=mend)
        raise InvalidValue(text, pointer=f"/observations/{row}/distance_mm", mend="Measure both again.")
    if fitted.condition >= _WORST_CONDITION:
        raise InvalidValue(
            "The fixture can move or turn without a change of any of these distances.",
            pointer="/observations",
            mend="Measure also from a mark to the side of the line on which these marks and feet lie.",
        )
    raise InvalidValue(
        "No place of the fixture comes near to all of these distances.",
        pointer="/observations",
        mend="Check marks, feet and nominal pose, and measure again.",
    )


def _require_yaw(fitted: Adjustment, body: Body, distances: Sequence[Distance]) -> None:
    if body.yaw_known or sqrt(fitted.covariance[2, 2]) <= _COARSEST_YAW_DEG:
        return
    raise InvalidValue(
        f"The feet are {_apart_mm(body, distances):,.1f} mm apart: too close to tell the yaw by.",
        pointer="/feet",
        mend="Measure to points of the fixture that are farther apart, or from marks to the side.",
    )


def _apart_mm(body: Body, distances: Sequence[Distance]) -> float:
    """Return how far apart the farthest two feet are that were measured."""
    feet = {one.foot for one in distances}
    return max(dist(body.feet[a], body.feet[b]) for a in feet for b in feet)


def contradictions(marks: Marks, body: Body, distances: Sequence[Distance]) -> Iterator[tuple[int, str]]:
    """Yield pairs of distances whose triangle cannot close, as the second one's row and a sentence."""
    for (_, one), (row, two) in combinations(enumerate(distances), 2):
        base = dist(marks.point(one.mark), marks.point(two.mark))
        apart = dist(body.feet[one.foot], body.feet[two.foot])
        sides = (base, one.distance_mm, two.distance_mm, apart)
        lacking = 2.0 * max(sides) - sum(sides)
        if lacking > _SIGMAS * _u_of_triangle(marks, one, two):
            text = (
                f"{one.mark} to {body.name(one.foot)} cannot be {one.distance_mm:,.0f} mm while {two.mark} "
                f"to {body.name(two.foot)} is {two.distance_mm:,.0f} mm: they miss by {lacking:,.0f} mm."
            )
            yield row, text


def _u_of_triangle(marks: Marks, one: Distance, two: Distance) -> float:
    """Return the standard uncertainty of what a triangle lacks; of one mark the error falls out."""
    rows = [] if one.mark == two.mark else [marks.index(one.mark), marks.index(two.mark)]
    at_marks = sum(float(np.diag(marks.covariance_mm2)[2 * row : 2 * row + 2].max()) for row in rows)
    return sqrt(one.u_mm**2 + two.u_mm**2 + at_marks)
