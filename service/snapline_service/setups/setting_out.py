"""Setting-out of a stage: tapes to every point of every fixture, and whether they can prove its tolerance."""

from collections.abc import Iterator, Sequence

import msgspec

from snapline.wire.setup_setting_out import AimUncertainty, AxisProof, FixtureSettingOut, SetupMark
from snapline.wire.setups import PlacedFixture, SetupRequest
from snapline_service.geometry import Polygon
from snapline_service.geometry.fixture_setting import u_of
from snapline_service.geometry.input_words import input_words
from snapline_service.setups import setting_out_words as words
from snapline_service.setups.diagonals import diagonals
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.marks import car_marks, wire_marks
from snapline_service.setups.means import means_of
from snapline_service.setups.remedies import what_would_do
from snapline_service.setups.setting_out_figures import aim_uncertainty, point_figures
from snapline_service.setups.stage_work import StageWork
from snapline_service.setups.standing import Standing, is_set_out, standing
from snapline_service.setups.trials import Attempt

# An input that moves no axis by more than this [mm or degrees, per mm or degree] is of no account.
_OF_NO_ACCOUNT = 1e-3


def of_stage(
    inputs: Inputs,
    request: SetupRequest,
    placed: Sequence[PlacedFixture],
    outlines: Sequence[list[Polygon]],
    allowance_sensor: str | None,
) -> tuple[tuple[PlacedFixture, ...], tuple[SetupMark, ...]]:
    """Return the fixtures with their setting-out, and the marks that it uses."""
    fixtures = [
        standing(item, inputs.vehicle, shapes, allowance_sensor)
        for item, shapes in zip(placed, outlines, strict=True)
        if is_set_out(item)
    ]
    work = StageWork(inputs, request, fixtures, means_of(request))
    tried = [work.attempt(one, work.means) for one in fixtures]
    answers = {one.item.id: _answer(work, one, found) for one, found in zip(fixtures, tried, strict=True)}
    done = tuple(msgspec.structs.replace(item, setting_out=answers.get(item.id)) for item in placed)
    return done, _marks(work, tried, list(answers.values()))


def left_out(inputs: Inputs, request: SetupRequest) -> tuple[str, ...]:
    """Say which marks the car cannot give, and what to measure for them."""
    return tuple(
        f"{mark[0].upper()}{mark[1:]}: measure the {input_words(missing)} and give it."
        for mark, missing in car_marks(inputs, request).left_out.items()
        if mark not in request.marks
    )


def _marks(
    work: StageWork, tried: Sequence[Attempt], answers: Sequence[FixtureSettingOut]
) -> tuple[SetupMark, ...]:
    """Return the car's own marks and all that tapes and checks are hooked to."""
    found = {mark.name: mark for mark in wire_marks(work.ground(work.means), work.ground(work.means).primary)}
    for one, answer in zip(tried, answers, strict=True):
        found |= {mark.name: mark for mark in wire_marks(one.ground, sorted(_used(answer)))}
    return tuple(found.values())


def _used(answer: FixtureSettingOut) -> set[str]:
    tapes = {tape.mark for point in answer.points for tape in point.distances}
    crossing = set(answer.diagonals.marks) if answer.diagonals else set()
    drawn = {mark for point in answer.points if point.from_line for mark in point.from_line.marks}
    return tapes | crossing | drawn | {point.check.mark for point in answer.points if point.check}


def _answer(work: StageWork, one: Standing, found: Attempt) -> FixtureSettingOut:
    rows, covariance = one.held.rows, found.covariance
    u = {} if covariance is None else {axis: u_of(row, covariance) for axis, row in rows.items()}
    unstated = tuple(_unstated(one, found))
    provable = words.provable(found, unstated)
    return FixtureSettingOut(
        points=tuple(point_figures(one, found, work.inputs, work.means)),
        diagonals=diagonals(one, found, work.means),
        u_along_mm=u.get("along"),
        u_lateral_mm=u.get("lateral"),
        u_yaw_deg=u.get("yaw"),
        aim=_aim(work, one, found),
        proofs=tuple(
            AxisProof(
                axis=proof.axis,
                unit="deg" if proof.axis == "yaw" else "mm",
                tolerance=proof.tolerance,
                u=proof.u,
                acceptance=proof.acceptance,
            )
            for proof in found.proofs
        ),
        provable=provable,
        words=words.verdict(one, found, provable, work.means.units),
        what_would_do=tuple(what_would_do(work, one, found, unstated)) if provable is not True else (),
        uncertainty_not_stated=unstated,
    )


def _aim(work: StageWork, one: Standing, found: Attempt) -> AimUncertainty | None:
    if one.sensor is None or found.covariance is None:
        return None
    sensor = work.inputs.vehicle.sensors[one.sensor]
    u_yaw_deg, u_elevation_deg = aim_uncertainty(one, found.covariance, sensor)
    return AimUncertainty(sensor=one.sensor, u_yaw_deg=u_yaw_deg, u_elevation_deg=u_elevation_deg)


def _unstated(one: Standing, found: Attempt) -> Iterator[str]:
    """Yield the inputs that move a limited axis and that nobody stated an uncertainty of."""
    for name in found.ground.unstated:
        moved = found.moved_by(one, name)
        if any(abs(float(one.held.rows[axis] @ moved)) > _OF_NO_ACCOUNT for axis in one.held.limits):
            yield name
