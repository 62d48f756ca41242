"""Rear toe turns the thrust line, and every pose that is aimed along it."""

from math import radians, sqrt

import pytest

from service.setups.job import Job
from snapline import Snapline
from snapline.errors import BadRequest
from snapline.wire.setup_setting_out import RearToe
from snapline.wire.setups import Setup

# A reflector 2,200 mm ahead of the bumper on the thrust line; 0.2 degrees is the most that is allowed.
JOB = Job("jorvantel-rhedgarn-2020-us", "radar-reflector")


def with_toe(client: Snapline, left_deg: float, right_deg: float, u_deg: float | None = None) -> Setup:
    return client.setups.compute(
        vehicle_id=JOB.vehicle_id,
        procedure_id=JOB.procedure_id,
        rear_toe=RearToe(left_deg=left_deg, right_deg=right_deg, u_deg=u_deg),
    )


def test_more_toe_in_on_the_right_turns_the_line_to_the_left(client: Snapline) -> None:
    # (right - left) / 2, toe-in positive: +0.15 and +0.05 on the right and left make 0.05 to the left.
    setup = with_toe(client, 0.05, 0.15)
    assert setup.vehicle.thrust_yaw_deg == pytest.approx(0.05)
    assert setup.measured == ("vehicle.thrust_yaw_deg",)
    assert not any("thrust line" in told for told in setup.assumed)
    (item,) = setup.stages[0].placements
    assert item.in_vehicle.y_mm == pytest.approx(radians(0.05) * item.in_vehicle.x_mm, rel=1e-6)
    assert with_toe(client, 0.15, 0.05).stages[0].placements[0].in_vehicle.y_mm < 0


def test_it_is_the_same_as_the_thrust_line_given_outright(client: Snapline) -> None:
    by_toe = with_toe(client, -0.02, 0.1, 0.03)
    outright = client.setups.compute(
        vehicle_id=JOB.vehicle_id,
        procedure_id=JOB.procedure_id,
        measured={"vehicle.thrust_yaw_deg": 0.06},
        standard_uncertainty={"vehicle.thrust_yaw_deg": 0.03 / sqrt(2)},
    )
    one, other = (setup.stages[0].placements[0] for setup in (by_toe, outright))
    assert one.in_vehicle.y_mm == pytest.approx(other.in_vehicle.y_mm, abs=1e-9)
    assert one.in_vehicle.yaw_deg == pytest.approx(other.in_vehicle.yaw_deg, abs=1e-12)
    assert one.covariance_xy_mm2
    assert other.covariance_xy_mm2
    assert one.covariance_xy_mm2[1][1] == pytest.approx(other.covariance_xy_mm2[1][1])


def test_its_uncertainty_is_in_every_pose_and_in_the_setting_out(client: Snapline) -> None:
    sure, unsure = (with_toe(client, 0.0, 0.1, u).stages[0].placements[0] for u in (0.0, 0.1))
    assert sure.covariance_xy_mm2
    assert unsure.covariance_xy_mm2
    # 0.1 degrees on each wheel: 0.0707 degrees of the line, over the distance from the rear axle.
    more = unsure.covariance_xy_mm2[1][1] - sure.covariance_xy_mm2[1][1]
    assert more == pytest.approx((radians(0.1 / sqrt(2)) * sure.in_vehicle.x_mm) ** 2, rel=1e-3)
    assert sure.setting_out
    assert unsure.setting_out
    assert sure.setting_out.u_lateral_mm
    assert unsure.setting_out.u_lateral_mm
    growth = unsure.setting_out.u_lateral_mm**2 - sure.setting_out.u_lateral_mm**2
    # Other marks may then be the better ones, so the growth is at least nearly this.
    assert growth == pytest.approx(more, rel=0.1)


def test_beyond_the_vehicles_limit_it_says_stop(client: Snapline) -> None:
    assert with_toe(client, 0.0, 0.38).stops_work == ()
    (told,) = with_toe(client, 0.0, 0.5).stops_work
    assert "0.25° to the left" in told
    assert "do not aim" in told


@pytest.mark.parametrize(
    ("field", "value", "u_deg"), [("measured", 0.1, None), ("standard_uncertainty", 0.02, 0.03)]
)
def test_a_thrust_line_given_twice_is_refused_with_both_named(
    client: Snapline, field: str, value: float, u_deg: float | None
) -> None:
    toe = RearToe(left_deg=0.0, right_deg=0.1, u_deg=u_deg)
    given = {"vehicle.thrust_yaw_deg": value}
    measured = given if field == "measured" else {}
    uncertainty = given if field == "standard_uncertainty" else {}
    with pytest.raises(BadRequest) as refused:
        client.setups.compute(
            vehicle_id=JOB.vehicle_id,
            procedure_id=JOB.procedure_id,
            rear_toe=toe,
            measured=measured,
            standard_uncertainty=uncertainty,
        )
    (fault,) = refused.value.errors
    assert fault.pointer == f"/{field}/vehicle.thrust_yaw_deg"
    assert "rear_toe" in fault.detail
    assert "vehicle.thrust_yaw_deg" in fault.detail
