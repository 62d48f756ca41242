"""Is the fixture really there? Its pose from distances measured after it was placed, and what they prove."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import hypot

from snapline_service.errors import InvalidValue
from snapline_service.geometry import as_set_advice as advice
from snapline_service.geometry.aim import AimError, aim_error
from snapline_service.geometry.as_set_distances import Distances, fit
from snapline_service.geometry.as_set_extra import Extras, extras, not_measured
from snapline_service.geometry.as_set_faults import (
    contradictions,
    require_fixed,
    require_independent,
    require_usable,
)
from snapline_service.geometry.as_set_place import Place, place_of
from snapline_service.geometry.as_set_slips import Without, located, without
from snapline_service.geometry.as_set_values import Aim, AsSet, Body, Distance, FloorPose, Height, Levels
from snapline_service.geometry.conformity import Verdict, judge, outcome_of
from snapline_service.geometry.least_squares import Adjustment
from snapline_service.geometry.marks import Marks
from snapline_service.geometry.outliers import global_test, w_tests
from snapline_service.geometry.values import Position

HEIGHT = "height_mm"
_MOST_NAMED = 3
_MOST_TOLD_APART = 12


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """The distances of one check, and the pose that fits them best."""

    marks: Marks
    body: Body
    distances: Sequence[Distance]
    model: Distances
    fitted: Adjustment

    @property
    def without(self) -> Without:
        return without(self.marks, [self.body], self.distances)

    def extras(self) -> Extras:
        candidates = not_measured(self.marks.names, len(self.body.feet), self.distances)
        return extras(self.model, self.fitted, self.marks, [self.body], candidates)


def check_as_set(
    marks: Marks,
    body: Body,
    distances: Sequence[Distance],
    *,
    height: Height,
    tolerances: Mapping[str, float],
    aim: Aim | None = None,
    levels: Levels | None = None,
) -> AsSet:
    """Work out where a fixture stands from distances to its feet, and whether that is inside its tolerance.

    ``tolerances`` are by axis: x_mm, y_mm, yaw_deg, height_mm, each only if there is one. Raises UnknownName
    and InvalidValue for measurements from which no pose follows; that they disagree is a result.
    """
    levels = levels or Levels()
    require_usable(marks, body, distances)
    model = Distances(marks, [body], distances)
    require_independent(model, distances)
    measured = _Measured(marks, body, distances, model, fit(model, distances))
    require_fixed(measured.fitted, marks, body, distances)
    place = place_of(model, measured.fitted, 0, tolerances, levels.alpha)
    judged_height = judge_height(height, tolerances.get(HEIGHT), levels.alpha)
    found = _found(measured, place, judged_height, levels)
    off = None if aim is None else _aim(aim, place.pose, body.nominal, height)
    said = (*_advice(measured, place, found, levels), *advice.height_move(height, judged_height))
    return replace(found, aim=off, advice=said)


def _found(measured: _Measured, place: Place, height: Verdict | None, levels: Levels) -> AsSet:
    fitted = measured.fitted
    chi2 = global_test(fitted, levels.alpha)
    tested = w_tests(fitted, levels.alpha_outlier)
    verdicts = {**place.verdicts, HEIGHT: height}
    return AsSet(
        pose=place.pose,
        u=FloorPose(*place.u.values()),
        covariance=place.covariance,
        chi2=chi2,
        observations=located(tested, fitted, levels.alpha, measured.without),
        verdicts=verdicts,
        joint_probability=with_independent(place.joint_probability, height),
        outcome=outcome_of(chi2.passed, verdicts.values()),
    )


def judge_height(height: Height, tolerance_mm: float | None, alpha: float) -> Verdict | None:
    """Judge a height, if it was measured with an uncertainty and has a tolerance."""
    if height.measured_mm is None or height.u_mm is None or tolerance_mm is None:
        return None
    return judge(height.measured_mm - height.nominal_mm, height.u_mm, tolerance_mm, alpha)


def with_independent(joint: float | None, *others: Verdict | None) -> float | None:
    """Return a joint probability with quantities that were measured independently, None of nothing."""
    for one in others:
        if one is not None:
            joint = one.probability if joint is None else joint * one.probability
    return joint


def _aim(aim: Aim, pose: FloorPose, nominal: FloorPose, height: Height) -> AimError:
    """Compare where the fixture is with where it should be; a height not measured is taken as right."""
    if any(hypot(at.x_mm - aim.sensor.x_mm, at.y_mm - aim.sensor.y_mm) < 1.0 for at in (pose, nominal)):
        raise InvalidValue(
            "The fixture is straight above or below the sensor, so it has no bearing.",
            pointer="/sensor",
            mend="Give the sensor's own place.",
        )
    measured_mm = height.nominal_mm if height.measured_mm is None else height.measured_mm
    return aim_error(
        aim.sensor,
        Position(nominal.x_mm, nominal.y_mm, height.nominal_mm),
        Position(pose.x_mm, pose.y_mm, measured_mm),
        aim.range_mm,
    )


def _advice(measured: _Measured, place: Place, found: AsSet, levels: Levels) -> Iterator[str]:
    bodies, distances, tested = [measured.body], measured.distances, found.observations
    if found.outcome == "measurements_disagree":
        yield from _on_disagreement(measured, found, levels)
        return
    yield from advice.on_suspects_that_agree(bodies, distances, tested)
    if any(one.w is None for one in tested):
        yield from advice.to_check(measured.extras().for_check(), bodies)
    yield from advice.on_place(place, measured.extras, levels.alpha)


def _on_disagreement(measured: _Measured, found: AsSet, levels: Levels) -> Iterator[str]:
    bodies = [measured.body]
    if _fits_turned_round(measured, levels):
        yield "The distances fit if the feet are exchanged: check which foot each was measured to."
        return
    yield from advice.on_disagreement(bodies, measured.distances, found.observations, found.chi2.dof)
    suspects = [row for row, one in enumerate(found.observations) if one.suspect]
    if not suspects:
        impossible = contradictions(measured.marks, measured.body, measured.distances)
        yield from (text for _, text in islice(impossible, _MOST_NAMED))
    if found.chi2.dof == 1:
        suspects = [row for row, one in enumerate(found.observations) if one.w is not None]
    if len(suspects) > 1:
        yield from advice.to_locate(measured.extras().for_locating(suspects[:_MOST_TOLD_APART]), bodies)


def _fits_turned_round(measured: _Measured, levels: Levels) -> bool:
    """Say whether the distances agree with the fixture facing the other way."""
    start = measured.model.start
    start[2] += 180.0
    other = fit(measured.model, measured.distances, start)
    return other.settled and bool(global_test(other, levels.alpha).passed)
