"""Verify a setup: what was measured after its fixtures were placed, and what that proves of every axis."""

from collections.abc import Iterator, Mapping, Sequence
from math import cos, degrees, hypot, inf, radians, sin, sqrt

import msgspec
import numpy as np

from snapline.offline import RevisionFile
from snapline.wire.as_set import Covariance, GlobalTest, PlanePose
from snapline.wire.setups import Setup
from snapline.wire.verification import (
    AimVerification,
    AxisVerification,
    PlacementVerification,
    PlaneUncertainty,
    Verification,
    VerifiedDistance,
    VerifyRequest,
)
from snapline_service.geometry import Position, aim_error
from snapline_service.geometry.as_set import with_independent
from snapline_service.geometry.as_set_place import Place
from snapline_service.geometry.conformity import Outcome, worst
from snapline_service.geometry.input_words import spoken
from snapline_service.setups.actions import compute
from snapline_service.setups.standing import Standing
from snapline_service.setups.verification_advice import on_fixture, on_the_whole
from snapline_service.setups.verification_axes import (
    Found,
    height_found,
    judged,
    limits_of,
    tilts_found,
)
from snapline_service.setups.verification_work import Work, gathered

# What a careful hand knows a length or an angle to; common practice, no source.
_KNOWN_ALIKE = {"mm": 1.0, "deg": 0.1}


def verify(file: RevisionFile, request: VerifyRequest) -> Verification:
    """Return what the measurements prove. Raises UnknownName, InvalidValue, and what ``compute`` raises."""
    setup = compute(file, request)
    work = gathered(file, request, setup)
    found = [_placement(work, stage, one) for stage, fixtures in work.stages.items() for one in fixtures]
    unstated = _unstated(found)
    placements = tuple(one for one, _ in found)
    return Verification(
        vehicle_id=setup.vehicle_id,
        vehicle_name=setup.vehicle_name,
        procedure_id=setup.procedure_id,
        procedure_name=setup.procedure_name,
        outcome=_overall(work, setup, placements),
        chi2=msgspec.convert(work.chi2, GlobalTest | None, from_attributes=True),
        placements=placements,
        observations=tuple(_observations(work)),
        advice=tuple(on_the_whole(work, placements, unstated)),
        uncertainty_not_stated=tuple(sorted(unstated)),
        assumed=(*setup.assumed, *_assumed(work)),
        stops_work=setup.stops_work,
        unchecked=setup.unchecked,
        invented=setup.invented,
        catalogue_revision=setup.catalogue_revision,
        sources=setup.sources,
        cautions=setup.cautions,
    )


def _placement(work: Work, stage: str, one: Standing) -> tuple[PlacementVerification, dict[str, Found]]:
    request, item, limits = work.request, one.item, limits_of(one.item)
    body, place = work.body_of(item), None
    found: dict[str, Found] = {}
    if body is not None and work.measured:
        place = work.measured.place(body, limits, request.alpha)
        found |= work.measured.axes(place)
    height = height_found(item, request.heights.get(item.id), work.inputs.standard_uncertainty)
    found |= {"height": height} if height else {}
    found |= tilts_found(item, request)
    judgements = list(judged(found, limits, request.alpha))
    axes = tuple(axis for axis, _ in judgements)
    by_axis = {axis.axis: verdict for axis, verdict in judgements}
    outcome = _outcome(work, body, axes)
    answer = PlacementVerification(
        id=item.id,
        stage=stage,
        pose=msgspec.convert(place.pose, PlanePose, from_attributes=True) if place else None,
        u=_u(place) if place else None,
        covariance=_covariance(place) if place else None,
        axes=axes,
        joint_probability=with_independent(
            place.joint_probability if place else None,
            *(by_axis.get(axis) for axis in ("height", "pitch", "roll")),
        ),
        aim=_aim(work, one, place, height) if place else None,
        outcome=outcome,
        advice=tuple(on_fixture(work, stage, one, place=place, found=found, verdicts=by_axis)),
    )
    return answer, found


def _unstated(found: Sequence[tuple[PlacementVerification, Mapping[str, Found]]]) -> list[str]:
    """Return the inputs of no stated uncertainty; first those that count most where all are known alike."""
    shares: dict[str, float] = {}
    for answer, axes in found:
        for axis in answer.axes:
            for name, slope in axes[axis.axis].unstated.items() if axis.axis in axes else ():
                share = slope * _KNOWN_ALIKE[name.rpartition("_")[2]] / (axis.tolerance or inf)
                shares[name] = max(share, shares.get(name, 0.0))
    return sorted(shares, key=lambda name: (-shares[name], name))


def _u(place: Place) -> PlaneUncertainty:
    u = [sqrt(variance) for variance in np.diag(place.covariance)]
    return PlaneUncertainty(x_mm=u[0], y_mm=u[1], yaw_deg=None if place.body.yaw_known else u[2])


def _covariance(place: Place) -> Covariance | None:
    return None if place.body.yaw_known else msgspec.convert(place.covariance.tolist(), Covariance)


def _outcome(work: Work, body: int | None, axes: tuple[AxisVerification, ...]) -> Outcome:
    """Return the worst of a placement's axes; unchecked distances prove nothing."""
    if work.disagree:
        return "measurements_disagree"
    words = [axis.verdict for axis in axes if axis.verdict]
    unchecked = body is not None and all(test.w is None for test in work.tests_of(body))
    if unchecked or not words:
        words.append("not_proven")
    return worst(words)


def _overall(work: Work, setup: Setup, placements: tuple[PlacementVerification, ...]) -> Outcome:
    if work.disagree:
        return "measurements_disagree"
    return worst([*(one.outcome for one in placements), *(["not_proven"] if setup.stops_work else [])])


def _observations(work: Work) -> Iterator[VerifiedDistance]:
    distances = work.measured.distances if work.measured else ()
    for given, one, test in zip(work.request.distances, distances, work.tested, strict=True):
        yield VerifiedDistance(
            placement=given.placement,
            point=given.point,
            mark=given.mark,
            u_mm=one.u_mm,
            residual_mm=test.residual,
            w=test.w,
            mdb_mm=test.mdb,
            suspect=test.suspect,
        )


def _aim(work: Work, one: Standing, place: Place, height: Found | None) -> AimVerification | None:
    """Return what the sensor will learn wrong; its uncertainty is that of the place across the sight."""
    if one.sensor is None:
        return None
    sensor, pose = work.inputs.vehicle.sensors[one.sensor], one.item.in_vehicle
    z_mm = pose.z_mm + (height.error if height else 0.0)
    found = aim_error(
        sensor,
        Position(pose.x_mm, pose.y_mm, pose.z_mm),
        Position(place.pose.x_mm, place.pose.y_mm, z_mm),
        work.request.range_mm,
    )
    across = np.array([-sin(radians(one.sight_deg)), cos(radians(one.sight_deg))])
    u_across_mm = sqrt(across @ place.covariance[:2, :2] @ across)
    distance_mm = hypot(place.pose.x_mm - sensor.x_mm, place.pose.y_mm - sensor.y_mm)
    return AimVerification(
        sensor=one.sensor,
        yaw_error_deg=found.yaw_error_deg,
        u_yaw_error_deg=degrees(u_across_mm / distance_mm),
        elevation_error_deg=found.elevation_error_deg if height else None,
        range_mm=work.request.range_mm,
        lateral_miss_mm=found.lateral_miss_mm,
    )


def _assumed(work: Work) -> Iterator[str]:
    for body, one in zip(work.measured.bodies, work.measured.fixtures, strict=True) if work.measured else ():
        if body.yaw_known:
            name = spoken(one.item.id)
            yield f"The direction of {name} is taken as right: distances go to one point of it."
