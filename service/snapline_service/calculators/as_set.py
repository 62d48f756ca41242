"""HTTP of the as-set check."""

from collections.abc import Mapping

import msgspec
from litestar import post
from litestar.params import JSONBody

from snapline.wire import as_set as wire
from snapline_service import cautions
from snapline_service.access.callers import needs
from snapline_service.geometry.as_set import HEIGHT, check_as_set
from snapline_service.geometry.as_set_place import VEHICLE_AXES
from snapline_service.geometry.as_set_values import Aim, AsSet, Body, Distance, FloorPose, Height, Levels
from snapline_service.geometry.conformity import Verdict
from snapline_service.geometry.marks import independent


@post(
    "/v1/geometry/as-set",
    operation_id="compute_as_set",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_as_set(data: JSONBody[wire.AsSetRequest]) -> wire.AsSetAnswer:
    """Work out where a fixture stands by measured distances, and whether that is inside its tolerance.

    Least squares with the marks' shared uncertainty, a test of the whole and of each distance, a verdict on
    each axis by guard band (JCGM 106), and advice in words. Distances that disagree are an answer; distances
    from which no pose follows are refused.
    """
    nominal = data.nominal
    found = check_as_set(
        independent(
            {name: (mark.x_mm, mark.y_mm) for name, mark in data.marks.items()},
            {name: mark.u_mm for name, mark in data.marks.items()},
        ),
        Body(
            feet=tuple((foot.x_mm, foot.y_mm) for foot in data.feet),
            nominal=FloorPose(nominal.x_mm, nominal.y_mm, nominal.yaw_deg),
        ),
        [Distance(one.mark, one.foot, one.distance_mm, one.u_mm) for one in data.observations],
        height=Height(nominal.height_mm, data.measured_height_mm, data.u_height_mm),
        tolerances={
            axis: limit
            for axis in (*VEHICLE_AXES, HEIGHT)
            if (limit := getattr(data.tolerance, axis)) is not None
        },
        aim=None if data.sensor is None else Aim(data.sensor, data.range_mm),
        levels=Levels(data.alpha, data.alpha_outlier),
    )
    return _answer(data, found)


def _tolerances(given: wire.AsSetTolerance) -> dict[str, float]:
    limits = {axis: getattr(given, axis) for axis in (*VEHICLE_AXES, HEIGHT)}
    return {axis: limit for axis, limit in limits.items() if limit is not None}


def _answer(data: wire.AsSetRequest, found: AsSet) -> wire.AsSetAnswer:
    return wire.AsSetAnswer(
        pose=_plane(found.pose),
        u=_plane(found.u),
        covariance=msgspec.convert(found.covariance.tolist(), wire.Covariance),
        chi2=msgspec.convert(found.chi2, wire.GlobalTest, from_attributes=True),
        observations=tuple(
            wire.CheckedDistance(
                mark=one.mark,
                foot=one.foot,
                residual_mm=test.residual,
                w=test.w,
                mdb_mm=test.mdb,
                suspect=test.suspect,
            )
            for one, test in zip(data.observations, found.observations, strict=True)
        ),
        verdicts=_verdicts(found.verdicts),
        joint_probability=found.joint_probability,
        aim=_aim(data, found),
        outcome=found.outcome,
        advice=found.advice,
        cautions=cautions.for_work([], [], []),
    )


def _plane(pose: FloorPose) -> wire.PlanePose:
    return msgspec.convert(pose, wire.PlanePose, from_attributes=True)


def _verdicts(found: Mapping[str, Verdict | None]) -> wire.AxisVerdicts:
    def on(axis: str) -> wire.AxisVerdict:
        one = found[axis]
        return wire.AxisVerdict(
            verdict=one.verdict if one else None, probability=one.probability if one else None
        )

    height = on(HEIGHT) if found[HEIGHT] else None
    return wire.AxisVerdicts(x_mm=on("x_mm"), y_mm=on("y_mm"), yaw_deg=on("yaw_deg"), height_mm=height)


def _aim(data: wire.AsSetRequest, found: AsSet) -> wire.AimChange | None:
    if found.aim is None:
        return None
    return wire.AimChange(
        yaw_error_deg=found.aim.yaw_error_deg,
        elevation_error_deg=None if data.measured_height_mm is None else found.aim.elevation_error_deg,
        lateral_miss_mm=found.aim.lateral_miss_mm,
    )


HANDLERS = [compute_as_set]
