"""Which input the uncertainty of a placement comes from."""

import pytest

from snapline_service.geometry import BayPose, Contribution, Offset, Placement, Sensor, VehicleGeometry, place

BOARD_AHEAD = Placement(
    "thrust_line", Offset("front_bumper", 1500.0), Offset("aim_line", 0.0), Offset("floor", 1200.0), 180.0
)


def test_independent_distances_along_one_line_add_as_squares(car: VehicleGeometry) -> None:
    u = {
        "vehicle.wheelbase_mm": 2.0,
        "vehicle.front_overhang_mm": 1.0,
        "placement.along.distance_mm": 2.0,
        "placement.lateral.distance_mm": 4.0,
        "vehicle.rear_track_mm": 9.0,
    }
    placed = place(car, BOARD_AHEAD, standard_uncertainty=u)
    assert placed.covariance_xy_mm2 == ((4.0 + 1.0 + 4.0, 0.0), (0.0, 16.0))
    assert placed.contributions == (
        Contribution("placement.lateral.distance_mm", 16.0 / 25.0),
        Contribution("placement.along.distance_mm", 4.0 / 25.0),
        Contribution("vehicle.wheelbase_mm", 4.0 / 25.0),
        Contribution("vehicle.front_overhang_mm", 1.0 / 25.0),
        Contribution("vehicle.rear_track_mm", 0.0),
    )


def test_a_tenth_of_a_degree_of_thrust_line_moves_the_board_sideways_only(car: VehicleGeometry) -> None:
    placed = place(car, BOARD_AHEAD, standard_uncertainty={"vehicle.thrust_yaw_deg": 0.1})
    assert placed.covariance_xy_mm2 is not None
    (along, _), (_, across) = placed.covariance_xy_mm2
    # 0.1 degrees at 5,180 mm from the rear axle is 9.041 mm by the arc, R pi / 1800.
    assert across**0.5 == pytest.approx(5180.0 * 3.14159265 / 1800.0)
    assert along == pytest.approx(0.0, abs=1e-12)
    assert placed.u_yaw_deg == 0.1


def test_in_the_bay_the_covariance_turns_with_the_heading(car: VehicleGeometry) -> None:
    u = {"placement.along.distance_mm": 3.0, "placement.lateral.distance_mm": 1.0}
    placed = place(car, BOARD_AHEAD, bay_pose=BayPose(0.0, 0.0, 90.0), standard_uncertainty=u)
    assert placed.covariance_xy_mm2 is not None
    (xx, xy), (yx, yy) = placed.covariance_xy_mm2
    assert (xx, yy) == pytest.approx((1.0, 9.0))
    assert xy == yx == pytest.approx(0.0, abs=1e-12)


def test_shares_add_to_one_and_the_largest_is_first(car: VehicleGeometry) -> None:
    u = {
        "vehicle.wheelbase_mm": 1.7,
        "vehicle.front_overhang_mm": 2.9,
        "vehicle.thrust_yaw_deg": 0.03,
        "vehicle.sensors.front.radar.yaw_deg": 0.2,
        "placement.along.distance_mm": 1.1,
        "placement.lateral.distance_mm": 0.7,
        "bay_pose.x_mm": 4.0,
        "bay_pose.heading_deg": 0.04,
    }
    placed = place(car, BOARD_AHEAD, bay_pose=BayPose(5000.0, 800.0, 12.0), standard_uncertainty=u)
    assert placed.contributions is not None
    shares = [contribution.share for contribution in placed.contributions]
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)
    assert shares == sorted(shares, reverse=True)
    assert {contribution.input for contribution in placed.contributions} == set(u)


@pytest.mark.parametrize("nothing", [None, {}])
def test_without_uncertainties_there_is_no_covariance(
    car: VehicleGeometry, nothing: dict[str, float] | None
) -> None:
    placed = place(car, BOARD_AHEAD, standard_uncertainty=nothing)
    assert placed.covariance_xy_mm2 is None
    assert placed.contributions is None
    assert placed.u_z_mm is None
    assert placed.u_yaw_deg is None


@pytest.mark.parametrize(
    "u", [{"vehicle.wheelbase_mm": 0.0}, {"vehicle.width_mm": 5.0}, {"bay_pose.x_mm": 4.0}]
)
def test_uncertainties_that_move_nothing_have_no_shares(car: VehicleGeometry, u: dict[str, float]) -> None:
    placed = place(car, BOARD_AHEAD, standard_uncertainty=u)
    assert placed.covariance_xy_mm2 == ((0.0, 0.0), (0.0, 0.0))
    assert placed.contributions is None


def test_a_distance_counted_from_the_sensor_whose_line_is_aimed_along_takes_its_place_once() -> None:
    car = VehicleGeometry(sensors={"radar": Sensor(3600.0, 100.0, 450.0)})
    ahead = Placement(
        "sensor:radar",
        Offset("sensor:radar", 2000.0),
        Offset("sensor:radar", 0.0),
        Offset("sensor:radar", 0.0),
    )
    u = {
        "vehicle.sensors.radar.x_mm": 2.0,
        "vehicle.sensors.radar.y_mm": 3.0,
        "vehicle.sensors.radar.z_mm": 4.0,
    }
    placed = place(car, ahead, standard_uncertainty=u)
    assert placed.covariance_xy_mm2 == ((4.0, 0.0), (0.0, 9.0))
    assert placed.u_z_mm == 4.0
