"""Setting out a point with two tapes: which pair of marks, how surely, and what checks it.

With d_i = |T - P_i| and unit vectors e_i from mark to target as rows of G, an error of the distances moves
the point by A = G^-1; a mark's own error acts as an error of its distance along e_i. For a pair, A is
written out: (1 / det) [[e_jy, -e_iy], [-e_jx, e_ix]].
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from math import hypot, inf, isfinite

import numpy as np
from numpy.typing import NDArray

from snapline_service.errors import InvalidValue
from snapline_service.geometry.blockers import Blockers
from snapline_service.geometry.marks import Marks
from snapline_service.geometry.tapes import Tape
from snapline_service.geometry.values import Point

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

MIN_SIN_ANGLE = 0.3
# The two circles of a pair whose tapes run along one line meet nowhere in particular, whatever is allowed.
_LEAST_SIN = 1e-6
# Nearer than this a target is on the mark and has no direction from it.
_ON_THE_MARK_MM = 1e-3
_SLACK = 1e-12
# Pairs that are mirror images tie but for rounding; names then decide.
_TIE_DIGITS = 9
_MOST_DIGITS = 18


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far the point may be off, either way: along the critical direction and across it [mm]."""

    critical_mm: float = inf
    other_mm: float = inf


@dataclass(frozen=True, slots=True)
class Distance:
    """A tape from a mark. The tolerances are those that both distances of a pair may use up at once.

    With ``tolerance_worst_mm`` the point stays inside its tolerance whatever the two errors are, with
    ``tolerance_95_mm`` in 95 % of cases (errors independent, 1.96 sd each).
    """

    mark: str
    distance_mm: float
    tolerance_worst_mm: float
    tolerance_95_mm: float


@dataclass(frozen=True, slots=True)
class Check:
    """The third tape: ``u_mm`` is the standard uncertainty of the misclosure, measured minus computed."""

    mark: str
    distance_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class Ranked:
    """A pair of marks, names in order, and how surely it sets out the point."""

    marks: tuple[str, str]
    u_critical_mm: float
    u_position_mm: float


@dataclass(frozen=True, slots=True)
class SettingOut:
    """The best pair with its check, and every pair in order; without a pair, the reasons."""

    feasible: bool
    distances: tuple[Distance, ...] = ()
    check: Check | None = None
    u_critical_mm: float | None = None
    u_position_mm: float | None = None
    sin_angle: float | None = None
    ranking: tuple[Ranked, ...] = ()
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Usable:
    """The marks that a tape reaches, in the order of their names: distances, directions, covariance."""

    names: tuple[str, ...]
    rows: Indices
    distances_mm: Array
    towards: Array
    u_tape_mm: Array
    covariance_mm2: Array


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """All admissible pairs of usable marks, best first: rows i and j, the sine between them, and A."""

    i: Indices
    j: Indices
    sin_angle: Array
    inverse: Array
    u_critical_mm: Array
    u_position_mm: Array


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """The best pair for a target: with A, the unit vectors from the marks and the tapes' uncertainties."""

    target: Point
    marks: tuple[str, str]
    distances_mm: tuple[float, float]
    inverse: Array
    towards: Array
    u_tape_mm: Array
    u_critical_mm: float
    u_position_mm: float
    sin_angle: float
    check: Check | None


def set_out(
    marks: Marks,
    target: Point,
    *,
    critical_direction: Point,
    tolerance: Tolerance,
    tape: Tape,
    blockers: Blockers,
    min_sin_angle: float = MIN_SIN_ANGLE,
) -> SettingOut:
    """Find the pair of marks that fixes a target best, by (critical sd, position sd, names).

    ``critical_direction`` is the one in which an error does most harm. A pair whose tapes meet at an angle
    with a sine below ``min_sin_angle`` is not used, nor is a mark that the tape does not reach. Raises
    InvalidValue for a critical direction without length.
    """
    basis = directions(critical_direction)
    usable, reasons = reachable(marks, target, tape, blockers.first_in_the_way(marks.points_mm, target))
    pairs = rank(usable, basis, min_sin_angle)
    best = best_of(usable, pairs, target)
    if best is None:
        return SettingOut(feasible=False, reasons=(*reasons, *unfit(usable, min_sin_angle)))
    worst_mm, likely_mm = distance_tolerances(basis @ best.inverse, tolerance)
    ranked = zip(
        pairs.i.tolist(),
        pairs.j.tolist(),
        pairs.u_critical_mm.tolist(),
        pairs.u_position_mm.tolist(),
        strict=True,
    )
    names = usable.names
    return SettingOut(
        feasible=True,
        distances=tuple(
            Distance(name, distance_mm, worst_mm, likely_mm)
            for name, distance_mm in zip(best.marks, best.distances_mm, strict=True)
        ),
        check=best.check,
        u_critical_mm=best.u_critical_mm,
        u_position_mm=best.u_position_mm,
        sin_angle=best.sin_angle,
        ranking=tuple(
            Ranked((names[i], names[j]), u_critical, u_position) for i, j, u_critical, u_position in ranked
        ),
    )


def directions(critical_direction: Point) -> Array:
    """Return the critical direction and the one across it as rows of unit length. Raises InvalidValue."""
    x, y = critical_direction
    length = hypot(x, y)
    if not (isfinite(length) and length > 0.0):
        raise InvalidValue(
            "The critical direction has no length.",
            pointer="/critical_direction",
            mend="Give the direction in which an error does most harm, for example [1, 0].",
        )
    return np.array([[x / length, y / length], [-y / length, x / length]])


def reachable(
    marks: Marks,
    target: Point,
    tape: Tape,
    in_the_way: Sequence[int | None],
    *,
    only: Sequence[str] | None = None,
    target_row: int | None = None,
) -> tuple[Usable, list[str]]:
    """Return the marks from which a tape reaches the target, and why each other one is of no use.

    ``in_the_way`` has the blocker between each mark and the target. ``only`` names the marks that count, all
    if left out. A target that stands among the marks, in ``target_row``, shares errors with them: what moves
    a mark and the target alike moves no distance between them.
    """
    from_mark = np.asarray(target, dtype=float) - marks.points_mm
    distances = np.hypot(from_mark[:, 0], from_mark[:, 1])
    reasons, rows = [], []
    for name in sorted(marks.names if only is None else only):
        row = marks.index(name)
        reason = _out_of_reach(name, float(distances[row]), in_the_way[row], tape)
        if reason:
            reasons.append(reason)
        else:
            rows.append(row)
    index = np.array(rows, dtype=np.intp)
    towards = from_mark[index] / distances[index, None]
    u_tape = tape.u_mm(distances[index])
    shared = _along_tapes(marks.covariance_mm2, index, towards, target_row)
    names = tuple(marks.names[row] for row in rows)
    return Usable(names, index, distances[index], towards, u_tape, shared + np.diag(u_tape**2)), reasons


@cache
def _pairs(count: int) -> tuple[Indices, Indices]:
    return np.triu_indices(count, k=1)


def rank(usable: Usable, basis: Array, min_sin_angle: float) -> Pairs:
    """Return every admissible pair, best first by (sd along the critical direction, position sd, names)."""
    i, j = _pairs(len(usable.names))
    one, two = usable.towards[i], usable.towards[j]
    det = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    fit = np.abs(det) >= max(min_sin_angle - _SLACK, _LEAST_SIN)
    i, j, one, two, det = i[fit], j[fit], one[fit], two[fit], det[fit]
    inverse = np.empty((len(i), 2, 2))
    inverse[:, 0, 0], inverse[:, 0, 1] = two[:, 1] / det, -one[:, 1] / det
    inverse[:, 1, 0], inverse[:, 1, 1] = -two[:, 0] / det, one[:, 0] / det
    by_axis = basis @ inverse
    c = usable.covariance_mm2
    variances = (
        by_axis[:, :, 0] ** 2 * c[i, i][:, None]
        + 2.0 * by_axis[:, :, 0] * by_axis[:, :, 1] * c[i, j][:, None]
        + by_axis[:, :, 1] ** 2 * c[j, j][:, None]
    )
    u_critical = np.sqrt(np.maximum(variances[:, 0], 0.0))
    u_position = np.sqrt(np.maximum(variances.sum(axis=1), 0.0))
    # i and j rise with the names, and lexsort takes its last key first.
    order = np.lexsort((j, i, u_position.round(_TIE_DIGITS), u_critical.round(_TIE_DIGITS)))
    return Pairs(i[order], j[order], np.abs(det[order]), inverse[order], u_critical[order], u_position[order])


def best_of(usable: Usable, pairs: Pairs, target: Point) -> Best | None:
    """Return the first of the ranked pairs with its check, or None if there is no pair."""
    if not len(pairs.i):
        return None
    i, j = int(pairs.i[0]), int(pairs.j[0])
    both = [i, j]
    return Best(
        target=target,
        marks=(usable.names[i], usable.names[j]),
        distances_mm=(float(usable.distances_mm[i]), float(usable.distances_mm[j])),
        inverse=pairs.inverse[0],
        towards=usable.towards[both],
        u_tape_mm=usable.u_tape_mm[both],
        u_critical_mm=float(pairs.u_critical_mm[0]),
        u_position_mm=float(pairs.u_position_mm[0]),
        sin_angle=float(pairs.sin_angle[0]),
        check=_best_check(usable, i, j, pairs.inverse[0]),
    )


def distance_tolerances(by_axis: Array, tolerance: Tolerance) -> tuple[float, float]:
    """Return the equal tolerance of both distances, worst case and 95 %, from B = [n; m] A."""
    limits = np.array([tolerance.critical_mm, tolerance.other_mm])
    worst = float(np.min(limits / np.abs(by_axis).sum(axis=1)))
    likely = float(np.min(limits / np.sqrt((by_axis**2).sum(axis=1))))
    return worst, likely


def is_left_of(target: Point, one: Point, two: Point) -> bool:
    """Say on which side of the line from one mark to another a target is, seen from the first."""
    return (two[0] - one[0]) * (target[1] - one[1]) - (two[1] - one[1]) * (target[0] - one[0]) > 0.0


def _out_of_reach(name: str, distance_mm: float, blocker: int | None, tape: Tape) -> str | None:
    if distance_mm < _ON_THE_MARK_MM:
        return f"{name}: the target is on this mark."
    if distance_mm > tape.length_mm * (1.0 + _SLACK):
        return f"{name}: {distance_mm:,.0f} mm away, and the tape is {tape.length_mm:,.0f} mm long."
    if blocker is not None:
        return f"{name}: blocker {blocker + 1} stands between it and the target."
    return None


def _along_tapes(covariance_mm2: Array, rows: Indices, towards: Array, target_row: int | None) -> Array:
    """Return the covariance that errors of marks and target give the distances: V S V'."""
    along = np.zeros((len(rows), len(covariance_mm2)))
    k = np.arange(len(rows))
    along[k, 2 * rows], along[k, 2 * rows + 1] = towards[:, 0], towards[:, 1]
    if target_row is not None:
        along[:, 2 * target_row : 2 * target_row + 2] -= towards
    return np.asarray(along @ covariance_mm2 @ along.T)


def _best_check(usable: Usable, i: int, j: int, inverse: Array) -> Check | None:
    """Return the other mark with the largest ratio of its smaller sensitivity to the misclosure's sd."""
    others = [row for row in range(len(usable.names)) if row not in (i, j)]
    if not others:
        return None
    slopes = usable.towards[others] @ inverse
    c, pair = usable.covariance_mm2, [i, j]
    with_pair, of_pair = c[:, pair][others], c[:, pair][pair]
    variances = c.diagonal()[others] + (slopes * (slopes @ of_pair - 2.0 * with_pair)).sum(axis=1)
    sds = np.sqrt(variances)
    best = int(np.argmax((np.abs(slopes).min(axis=1) / sds).round(_TIE_DIGITS)))
    row = others[best]
    return Check(usable.names[row], float(usable.distances_mm[row]), float(sds[best]))


def unfit(usable: Usable, min_sin_angle: float) -> Iterator[str]:
    """Say why the marks that a tape reaches do not make a pair."""
    if len(usable.names) < 2:
        only = f"only {usable.names[0]}" if usable.names else "no mark"
        yield f"Two marks are needed, and a tape reaches the target from {only}."
        return
    for one, two in combinations(range(len(usable.names)), 2):
        (x, y), (other_x, other_y) = usable.towards[one], usable.towards[two]
        sine = abs(float(x * other_y - y * other_x))
        yield (
            f"{usable.names[one]} and {usable.names[two]}: the tapes meet at an angle with a sine of "
            f"{_short_of(sine, min_sin_angle)}, and at least {min_sin_angle:g} is needed."
        )


def _short_of(sine: float, needed: float) -> str:
    """Return a sine with as many digits, two or more, as tell it from the one that is needed."""
    digits = next((d for d in range(2, _MOST_DIGITS) if round(sine, d) < needed), 2)
    return f"{sine:.{digits}f}"
