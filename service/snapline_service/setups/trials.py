"""How surely a fixture can be set out with given means, found by trying."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import cos, radians, sin
from string import ascii_uppercase

import numpy as np

from snapline_service.geometry import Point, Polygon
from snapline_service.geometry.blockers import Blockers
from snapline_service.geometry.fixture_setting import Proof, joint_covariance, point_weights, proofs
from snapline_service.geometry.marks import Array
from snapline_service.geometry.setting_out import (
    MIN_SIN_ANGLE,
    Best,
    Usable,
    best_of,
    directions,
    rank,
    reachable,
    unfit,
)
from snapline_service.setups.ground import Ground
from snapline_service.setups.marks import with_stations
from snapline_service.setups.means import Means
from snapline_service.setups.standing import Standing

# Where a first stage may put a mark: about the fixture, so far from its reference point.
_STATION_MM = (1200.0, 2000.0)
_ANY_DIRECTION = directions((1.0, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class Attempt:
    """One way to set a fixture out: the best pair of each point, and what it proves."""

    ground: Ground
    basis: Array
    found: tuple[Best | None, ...]
    reasons: tuple[tuple[str, ...], ...]
    covariance: Array | None
    proofs: tuple[Proof, ...]
    sights: "Sights"

    def sees(self, mark: str, target: str, ground: Ground) -> bool:
        """Say whether a tape from a mark to a target is free."""
        points = ground.joint.points_mm[[ground.joint.index(mark)]]
        return self.sights.in_the_way(points, ground.joint.point(target)) == [None]

    def moved_by(self, one: Standing, name: str) -> Array:
        """Return how the points move per unit of an input that nobody stated an uncertainty of."""
        whole = [best for best in self.found if best is not None]
        if len(whole) < len(self.found):
            return np.zeros(2 * len(self.found))
        return self.ground.slopes(point_weights(self.ground.joint, one.targets, whole), name)

    @property
    def proves(self) -> bool:
        """Say whether every limited axis can be proven."""
        return self.covariance is not None and all(proof.acceptance is not None for proof in self.proofs)

    @property
    def is_checked(self) -> bool:
        """Say whether every point has a third tape."""
        return all(best is not None and best.check is not None for best in self.found)

    @property
    def will_do(self) -> bool:
        """Say whether nothing better needs to be looked for."""
        return self.proves and self.is_checked

    @property
    def merit(self) -> tuple[int, bool, bool, float]:
        """Order attempts: points that have a pair, proof, checks, and the worst axis."""
        worst = max((proof.u / proof.tolerance for proof in self.proofs), default=0.0)
        reached = sum(best is not None for best in self.found)
        return reached, self.proves, self.is_checked, -worst


class Sights:
    """Which marks a fixture's points can be taped from, remembered over many attempts."""

    def __init__(self, barred: Iterable[Polygon]) -> None:
        self._blockers = Blockers.of_hulls(barred)
        self._known: dict[tuple[Point, Point], int | None] = {}

    def in_the_way(self, points: Array, target: Point) -> list[int | None]:
        """Return for each mark what stands between it and a target."""
        keys = [(target, (float(x), float(y))) for x, y in points]
        new = [row for row, key in enumerate(keys) if key not in self._known]
        if new:
            found = self._blockers.first_in_the_way(points[new], target)
            self._known |= {keys[row]: blocker for row, blocker in zip(new, found, strict=True)}
        return [self._known[key] for key in keys]


def attempt(one: Standing, ground: Ground, means: Means, sights: Sights) -> Attempt:
    """Set a fixture out with the car's own marks, then with strings, then in two stages, as far as needed."""
    found = _with_marks(one, ground, ground.primary, means, sights)
    if found.will_do:
        return found
    return max(found, best_attempt(one, ground, means, sights), key=lambda tried: tried.merit)


def best_attempt(one: Standing, ground: Ground, means: Means, sights: Sights) -> Attempt:
    """Set a fixture out with all marks that may be made, in two stages only if one does not do."""
    names = (*ground.primary, *ground.auxiliary) if means.auxiliary_marks else ground.primary
    found = _with_marks(one, ground, names, means, sights)
    if found.will_do or not means.two_stages:
        return found
    further = _in_two_stages(one, ground, names, means, sights)
    return max(found, further, key=lambda tried: tried.merit)


def _with_marks(
    one: Standing, ground: Ground, names: tuple[str, ...], means: Means, sights: Sights
) -> Attempt:
    """Choose each point's pair for the critical direction; if that proves nothing, for the one across it."""
    seen = [_seen(ground, target, names, means, sights) for target in one.targets]
    found = _with_basis(one, ground, seen, one.basis, sights)
    if found.proves or found.covariance is None:
        return found
    turned = np.array([one.basis[1], -one.basis[0]])
    return max(found, _with_basis(one, ground, seen, turned, sights), key=lambda tried: tried.merit)


def _seen(
    ground: Ground, target: str, names: tuple[str, ...], means: Means, sights: Sights
) -> tuple[Usable, list[str]]:
    marks, at = ground.joint, ground.joint.point(target)
    in_the_way = sights.in_the_way(marks.points_mm, at)
    return reachable(marks, at, means.tape, in_the_way, only=names, target_row=marks.index(target))


def _with_basis(
    one: Standing, ground: Ground, seen: list[tuple[Usable, list[str]]], basis: Array, sights: Sights
) -> Attempt:
    found, reasons = [], []
    for target, (usable, why_not) in zip(one.targets, seen, strict=True):
        best = best_of(usable, rank(usable, basis, MIN_SIN_ANGLE), ground.joint.point(target))
        found.append(best)
        reasons.append(() if best else (*why_not, *unfit(usable, MIN_SIN_ANGLE)))
    covariance: Array | None = None
    proven: tuple[Proof, ...] = ()
    whole = [best for best in found if best is not None]
    if len(whole) == len(found):
        covariance = joint_covariance(ground.joint, one.targets, whole)
        proven = tuple(proofs(one.held, covariance))
    return Attempt(ground, basis, tuple(found), tuple(reasons), covariance, proven, sights)


def _in_two_stages(
    one: Standing, ground: Ground, names: tuple[str, ...], means: Means, sights: Sights
) -> Attempt:
    """Put marks about the fixture by tape first, then set it out from all of them."""
    stations = list(_stations(one, ground, names, means, sights))
    widened = with_stations(ground, stations, means)
    return _with_marks(one, widened, (*names, *(name for name, _ in stations)), means, sights)


def _stations(
    one: Standing, ground: Ground, names: tuple[str, ...], means: Means, sights: Sights
) -> Iterator[tuple[str, Best]]:
    pose = one.item.in_vehicle
    marks = ground.joint
    places = [(reach_mm, step) for reach_mm in _STATION_MM for step in range(0, 360, 45)]
    for letter, (reach_mm, step) in zip(ascii_uppercase, places, strict=False):
        angle = radians(step + one.sight_deg)
        at = (pose.x_mm + reach_mm * cos(angle), pose.y_mm + reach_mm * sin(angle))
        in_the_way = sights.in_the_way(marks.points_mm, at)
        usable, _ = reachable(marks, at, means.tape, in_the_way, only=names)
        best = best_of(usable, rank(usable, _ANY_DIRECTION, MIN_SIN_ANGLE), at)
        if best is not None:
            yield f"{one.item.id} mark {letter}", best
