"""Where fixtures stand: by hand, in the bay, and after something was measured on the car."""

from math import cos, radians, remainder, sin, tan

import pytest

from service.setups.job import COMPLETE, WITHOUT_FRONT_OVERHANG, Job, axis_of, known, place_of
from snapline import MissingDimension, Snapline
from snapline.wire.common import BayPose, Pose
from snapline.wire.setups import PlacedFixture, Setup

every_job = pytest.mark.parametrize("job", COMPLETE, ids=str)
RADAR = Job("jorvantel-rhedgarn-2020-us", "radar-reflector")
BOARD = Job("quellovane-sablune-2023-eu", "camera-board")


def placed_in(setup: Setup) -> list[PlacedFixture]:
    return [item for stage in setup.stages for item in stage.placements]


def only(setup: Setup) -> Pose:
    (item,) = placed_in(setup)
    return item.in_vehicle


@every_job
def test_every_fixture_stands_where_a_pocket_calculator_says(setups: dict[Job, Setup], job: Job) -> None:
    """In all demo sentences along and lateral count at right angles, or along a sensor's own line."""
    assert {item.id for item in placed_in(setups[job])} == set(job.placements)
    for item in placed_in(setups[job]):
        sentence = job.placements[item.id].placement
        along, lateral = sentence.along.distance_mm, sentence.lateral.distance_mm
        c, s = axis_of(job.vehicle, sentence.aim_line)
        x0, y0 = place_of(job.vehicle, sentence.along.datum)
        if sentence.aim_line == sentence.along.datum:  # out along a sensor's own line
            x, y = x0 + along * c, y0 + along * s
            if sentence.lateral.datum == "centreline":
                # x cos a + y sin a = x0 cos a + y0 sin a + d, with y known
                y = lateral if c > 0 else -lateral
                x = (x0 * c + y0 * s + along - y * s) / c
        else:
            assert (c, s) == (1.0, 0.0)
            datum = sentence.lateral.datum
            side = 0.0 if datum in ("aim_line", "centreline") else place_of(job.vehicle, datum)[1]
            x, y = x0 + along, side + lateral
        z = sentence.height.distance_mm
        if sentence.height.datum != "floor":
            z += job.vehicle.sensors[sentence.height.datum.removeprefix("sensor:")].z_mm
        pose = item.in_vehicle
        assert (pose.x_mm, pose.y_mm, pose.z_mm) == pytest.approx((x, y, z), abs=1e-6)
        assert (
            cos(radians(pose.yaw_deg - sentence.yaw_deg)),
            sin(radians(pose.yaw_deg - sentence.yaw_deg)),
        ) == (pytest.approx((c, s), abs=1e-9))
        assert -180.0 < pose.yaw_deg <= 180.0
        assert item.in_bay is None


@every_job
def test_in_the_bay_everything_is_turned_and_moved_with_the_car(client: Snapline, job: Job) -> None:
    for heading in (90.0, -137.5):
        setup = client.setups.compute(
            vehicle_id=job.vehicle_id,
            procedure_id=job.procedure_id,
            bay_pose=BayPose(x_mm=5200.0, y_mm=-310.0, heading_deg=heading),
        )
        c, s = cos(radians(heading)), sin(radians(heading))
        for item in placed_in(setup):
            inside, bay = item.in_vehicle, item.in_bay
            assert bay
            turned = 5200.0 + c * inside.x_mm - s * inside.y_mm, -310.0 + s * inside.x_mm + c * inside.y_mm
            assert (bay.x_mm, bay.y_mm, bay.z_mm) == pytest.approx((*turned, inside.z_mm), abs=1e-6)
            assert remainder(bay.yaw_deg - inside.yaw_deg - heading, 360.0) == pytest.approx(0.0, abs=1e-9)
            assert (bay.pitch_deg, bay.roll_deg) == (inside.pitch_deg, inside.roll_deg)


def test_a_missing_dimension_is_named_and_measuring_it_is_enough(client: Snapline) -> None:
    job = Job(WITHOUT_FRONT_OVERHANG, "camera-board")
    with pytest.raises(MissingDimension) as caught:
        client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id)
    (fault,) = caught.value.errors
    assert fault.pointer == "/measured/vehicle.front_overhang_mm"
    assert "'vehicle.front_overhang_mm'" in fault.detail
    setup = client.setups.compute(
        vehicle_id=job.vehicle_id,
        procedure_id=job.procedure_id,
        measured={"vehicle.front_overhang_mm": 905.0},
    )
    (item,) = job.placements.values()
    wheelbase_mm = known(job.vehicle.dimensions.wheelbase_mm)
    assert only(setup).x_mm == pytest.approx(wheelbase_mm + 905.0 + item.placement.along.distance_mm)
    assert (setup.measured, setup.vehicle.front_overhang_mm) == (("vehicle.front_overhang_mm",), 905.0)


GB_BOARD = Job("quellovane-lirra-2020-gb", "camera-board")  # in line with the camera
FROM_RADAR = Job("jorvantel-mesquin-2021-us", "radar-reflector")
FROM_WHEEL = Job("ostrivelle-pontaise-2021-eu-long", "camera-board")  # half of a wider track moves it left


@pytest.mark.parametrize(
    ("job", "measured", "change"),
    [
        (BOARD, {"vehicle.front_overhang_mm": 895.0 + 12.0}, (12.0, 0.0)),
        (BOARD, {"vehicle.wheelbase_mm": 2790.0 - 7.5}, (-7.5, 0.0)),
        (
            BOARD,
            {"vehicle.wheelbase_mm": 2790.0 - 7.5, "vehicle.front_overhang_mm": 895.0 + 12.0},
            (4.5, 0.0),
        ),
        (BOARD, {"vehicle.width_mm": 1900.0, "vehicle.rear_track_mm": 1600.0}, (0.0, 0.0)),
        (BOARD, {"vehicle.thrust_yaw_deg": 0.2}, (0.0, 0.0)),  # aimed by the centreline
        (GB_BOARD, {"vehicle.sensors.front_camera.y_mm": 165.0 + 3.0}, (0.0, 3.0)),
        (FROM_RADAR, {"vehicle.sensors.front_radar.x_mm": 4160.0 - 10.0}, (-10.0, 0.0)),
        (FROM_RADAR, {"vehicle.sensors.front_radar.z_mm": 800.0}, (0.0, 0.0)),
        (FROM_WHEEL, {"vehicle.front_track_mm": 1620.0 + 10.0}, (0.0, 5.0)),
    ],
)
def test_a_measured_figure_moves_the_fixture_by_its_own_change(
    client: Snapline,
    setups: dict[Job, Setup],
    job: Job,
    measured: dict[str, float],
    change: tuple[float, float],
) -> None:
    before = only(setups[job])
    after = client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, measured=measured)
    pose = only(after)
    assert (pose.x_mm - before.x_mm, pose.y_mm - before.y_mm) == pytest.approx(change, abs=1e-6)
    assert after.measured == tuple(sorted(measured))


def test_a_measured_height_of_the_sensor_lifts_what_is_set_level_with_it(client: Snapline) -> None:
    job = Job("quellovane-lirra-2020-eu-radar", "radar-reflector")
    measured = {"vehicle.sensors.front_radar.z_mm": 533.0}
    setup = client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, measured=measured)
    assert only(setup).z_mm == 533.0


@pytest.mark.parametrize("thrust_deg", [0.1, -0.15, 1.0])
def test_a_measured_thrust_line_carries_and_turns_the_reflector(client: Snapline, thrust_deg: float) -> None:
    setup = client.setups.compute(
        vehicle_id=RADAR.vehicle_id,
        procedure_id=RADAR.procedure_id,
        measured={"vehicle.thrust_yaw_deg": thrust_deg},
    )
    # From where the thrust line crosses the bumper 3,825 mm ahead of the rear axle, 2,200 mm along it.
    thrust = radians(thrust_deg)
    x, y = 3825.0 + 2200.0 * cos(thrust), 3825.0 * tan(thrust) + 2200.0 * sin(thrust)
    pose = only(setup)
    assert (pose.x_mm, pose.y_mm) == pytest.approx((x, y), abs=1e-6)
    assert remainder(pose.yaw_deg - (180.0 + thrust_deg), 360.0) == pytest.approx(0.0, abs=1e-9)
    assert not any("rear toe" in text for text in setup.assumed)


def test_a_measured_sensor_yaw_swings_the_reflector_about_the_sensor(client: Snapline) -> None:
    job = Job("brennhavik-skarra-2022-eu", "rear-radars-reflectors")
    sensor = job.vehicle.sensors["rear_left_radar"]
    setup = client.setups.compute(
        vehicle_id=job.vehicle_id,
        procedure_id=job.procedure_id,
        measured={"vehicle.sensors.rear_left_radar.yaw_deg": sensor.yaw_deg + 1.5},
    )
    left, right = placed_in(setup)
    angle = radians(sensor.yaw_deg + 1.5)
    swung = sensor.x_mm + 2600.0 * cos(angle), sensor.y_mm + 2600.0 * sin(angle)
    assert (left.in_vehicle.x_mm, left.in_vehicle.y_mm) == pytest.approx(swung, abs=1e-6)
    other = job.vehicle.sensors["rear_right_radar"]
    assert right.in_vehicle.x_mm == pytest.approx(other.x_mm + 2600.0 * cos(radians(other.yaw_deg)))


def test_a_thrust_line_that_nobody_measured_is_said_to_be_assumed(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        aimed_by_it = any(item.placement.aim_line == "thrust_line" for item in job.placements.values())
        assert any("rear toe" in text for text in setup.assumed) == aimed_by_it
    assert "rear toe" in setups[RADAR].assumed[0]


def test_what_is_not_static_puts_nothing_on_the_floor(client: Snapline) -> None:
    drive = client.setups.compute(vehicle_id="quellovane-lirra-2020-eu", procedure_id="camera-drive")
    assert (drive.method, drive.stages, drive.envelope, drive.without_uncertainty) == (
        "dynamic",
        (),
        None,
        (),
    )
    assert drive.drive
    tool = client.setups.compute(vehicle_id="kadoruma-numira-2021-au", procedure_id="steering-angle-zero")
    assert (tool.method, tool.stages, tool.envelope) == ("scan_tool", (), None)
    assert tool.tool_function
