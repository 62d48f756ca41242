"""The distances of a verification, adjusted all together: fixtures that share marks share their errors."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import dist
from typing import NoReturn

from snapline.wire.verification import VerifyRequest
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.geometry.as_set_budget import by_marks, variances
from snapline_service.geometry.as_set_distances import Distances, fit
from snapline_service.geometry.as_set_extra import Extras, extras
from snapline_service.geometry.as_set_faults import require_enough, require_fixed, require_independent
from snapline_service.geometry.as_set_place import AIM_AXES, Place, place_of
from snapline_service.geometry.as_set_values import Body, Distance, FloorPose
from snapline_service.geometry.axes import turned
from snapline_service.geometry.input_words import spoken
from snapline_service.geometry.least_squares import Adjustment
from snapline_service.geometry.marks import Array
from snapline_service.setups.means import Means
from snapline_service.setups.standing import Standing
from snapline_service.setups.verification_axes import Found, Limit
from snapline_service.setups.verification_ground import Staked

# An input that moves no axis by more than this [mm or degrees, per mm or degree] is of no account.
_OF_NO_ACCOUNT = 1e-3
_AT_REFERENCE_MM = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Adjusted:
    """The fixtures that distances were measured to, in one adjustment."""

    staked: Staked
    fixtures: tuple[Standing, ...]
    bodies: tuple[Body, ...]
    distances: tuple[Distance, ...]
    model: Distances
    fitted: Adjustment

    def place(self, body: int, limits: Mapping[str, Limit], alpha: float) -> Place:
        """Return one fixture's place, judged along and across its aim line."""
        sizes = {f"{axis}_{'deg' if axis == 'yaw' else 'mm'}": limit.size for axis, limit in limits.items()}
        aim_deg = self.fixtures[body].aim_yaw_deg
        return place_of(self.model, self.fitted, body, sizes, alpha, aim_deg=aim_deg, axes=AIM_AXES)

    def axes(self, place: Place) -> dict[str, Found]:
        """Return the axes of a place with what their uncertainty is made of."""
        c = self.staked.marks.covariance_mm2
        parts = {"marks": c - self.staked.vehicle_mm2, "vehicle": self.staked.vehicle_mm2}
        return {
            axis.rpartition("_")[0]: Found(
                place.errors[axis],
                place.u[axis],
                {name: max(v, 0.0) for name, v in self._variances(row, parts).items()},
                dict(self._unstated(row)),
            )
            for axis, row in place.rows.items()
        }

    def _variances(self, row: Array, parts: Mapping[str, Array]) -> dict[str, float]:
        return variances(row, self.model, self.fitted, self.distances, parts)

    def _unstated(self, row: Array) -> Iterator[tuple[str, float]]:
        moved = by_marks(row, self.model, self.fitted)
        for name, slopes in self.staked.unstated.items():
            slope = abs(float(moved @ slopes))
            if slope > _OF_NO_ACCOUNT:
                yield name, slope

    def extras(self, body: int, pairs: Sequence[tuple[str, int]], u_mm: float) -> Extras:
        """Return what further distances to a fixture would tell."""
        targets = self.fixtures[body].targets
        candidates = [Distance(mark, foot, 0.0, u_mm, body, targets[foot]) for mark, foot in pairs]
        return extras(self.model, self.fitted, self.staked.marks, self.bodies, candidates)


def adjusted(request: VerifyRequest, staked: Staked, fixtures: Sequence[Standing], means: Means) -> Adjusted:
    """Adjust all distances together.

    Raises UnknownName for a placement, point or mark that the setup does not have, InvalidValue for distances
    that do not fix a fixture.
    """
    _require_known(request, staked, fixtures)
    measured = tuple(one for one in fixtures if any(d.placement == one.item.id for d in request.distances))
    bodies = tuple(_body(one, request, alone=len(fixtures) == 1) for one in measured)
    order = [one.item.id for one in measured]
    distances = tuple(
        Distance(
            mark=d.mark,
            foot=measured[order.index(d.placement)].names.index(d.point),
            distance_mm=d.distance_mm,
            u_mm=means.tape.u_of_mm(d.distance_mm) if d.u_mm is None else d.u_mm,
            body=order.index(d.placement),
            target=f"{d.placement}/{d.point}",
        )
        for d in request.distances
    )
    for index, body in enumerate(bodies):
        _require_each(staked, body, index, distances)
    model = Distances(staked.marks, bodies, distances)
    with _at_distances(range(len(distances))):
        require_independent(model, distances)
    return Adjusted(staked, measured, bodies, distances, model, fit(model, distances))


def _body(one: Standing, request: VerifyRequest, *, alone: bool) -> Body:
    """Return a fixture about its reference point; of one point measured, the yaw is not known."""
    pose = one.item.in_vehicle
    at = (one.at[target] for target in one.targets)
    points = {name: (place.x.value, place.y.value) for name, place in zip(one.names, at, strict=True)}
    feet = tuple(turned((x - pose.x_mm, y - pose.y_mm), -pose.yaw_deg) for x, y in points.values())
    used = [points[d.point] for d in request.distances if d.placement == one.item.id]
    called = one.names if alone else tuple(f"{name} of {spoken(one.item.id)}" for name in one.names)
    return Body(
        feet=feet,
        nominal=FloorPose(pose.x_mm, pose.y_mm, pose.yaw_deg),
        yaw_known=max(dist(a, b) for a in used for b in used) == 0.0,
        names=called,
    )


def _require_known(request: VerifyRequest, staked: Staked, fixtures: Sequence[Standing]) -> None:
    known = {one.item.id: one for one in fixtures}
    for row, given in enumerate(request.distances):
        if given.placement not in known:
            _refuse(row, "placement", f"There is no placement '{given.placement}' to verify.", list(known))
        if given.point not in known[given.placement].names:
            points = known[given.placement].names
            _refuse(row, "point", f"{given.placement} has no point '{given.point}'.", list(points))
        if given.mark not in staked.floor_marks:
            _refuse(row, "mark", f"The setup has no mark '{given.mark}'.", list(staked.floor_marks))


def _refuse(row: int, field: str, detail: str, known: list[str]) -> NoReturn:
    name = detail.split("'")[1]
    raise UnknownName(detail, pointer=pointer(["distances", row, field]), mend=nearest(name, known))


def _require_each(staked: Staked, body: Body, index: int, distances: Sequence[Distance]) -> None:
    """Raise InvalidValue unless the distances to one fixture fix it by themselves."""
    rows = [row for row, one in enumerate(distances) if one.body == index]
    own = [replace(distances[row], body=0) for row in rows]
    with _at_distances(rows):
        if body.yaw_known and any(abs(at) > _AT_REFERENCE_MM for at in body.feet[own[0].foot]):
            raise InvalidValue(
                f"Distances to {body.name(own[0].foot)} alone do not tell where the fixture stands.",
                pointer="/observations",
                mend="Measure to a second point of it as well.",
            )
        require_enough(body, own)
        model = Distances(staked.marks, [body], own)
        require_independent(model, own)
        require_fixed(fit(model, own), staked.marks, body, own)


@contextmanager
def _at_distances(rows: Sequence[int]) -> Iterator[None]:
    """Point the faults of an adjustment to the distances of the request."""
    try:
        yield
    except InvalidValue as error:
        _, _, *rest = error.pointer.split("/")
        at: list[str | int] = [rows[int(rest[0])], *rest[1:]] if rest else []
        raise InvalidValue(error.detail, pointer=pointer(["distances", *at]), mend=error.mend) from None
