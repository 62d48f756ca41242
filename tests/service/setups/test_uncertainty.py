"""How surely a fixture's place is known: whose share is how large, and what nobody has stated."""

import httpx
import pytest

from service.setups.job import COMPLETE, EVERY_JOB, Job
from snapline import Snapline
from snapline.wire.common import BayPose
from snapline.wire.setups import PlacedFixture, Setup

BOARD = Job("quellovane-sablune-2023-eu", "camera-board")
SENTENCE = (
    "placement.along.distance_mm",
    "placement.lateral.distance_mm",
    "placement.height.distance_mm",
    "placement.yaw_deg",
)
BAY = ("bay_pose.x_mm", "bay_pose.y_mm", "bay_pose.heading_deg")
DIFFERENT = [
    BOARD,
    Job("quellovane-lirra-2016-eu", "camera-board"),
    Job("quellovane-lirra-2020-gb", "camera-board"),
    Job("jorvantel-rhedgarn-2020-us", "radar-reflector"),
    Job("mirandeux-celadine-2023-eu", "rear-radars-reflectors"),
    Job("kadoruma-numira-2024-nz", "corner-radars-plates"),
    Job("ostrivelle-cambresolle-2019-eu", "surround-view-mats"),
    Job("ostrivelle-pontaise-2021-eu-long", "camera-board"),
]


def placed_in(setup: Setup) -> list[PlacedFixture]:
    return [item for stage in setup.stages for item in stage.placements]


def stands(setup: Setup) -> list[tuple[float, float, float, float]]:
    poses = [item.in_vehicle for item in placed_in(setup)]
    return [(pose.x_mm, pose.y_mm, pose.z_mm, pose.yaw_deg) for pose in poses]


def test_shares_add_to_one_wherever_something_is_known(setups: dict[Job, Setup]) -> None:
    counted = 0
    for job, setup in setups.items():
        for item in placed_in(setup):
            assert (item.covariance_xy_mm2 is None) == (not job.vehicle.standard_uncertainty)
            if item.contributions is not None:
                counted += 1
                assert sum(part.share for part in item.contributions) == pytest.approx(1.0, abs=1e-12)
                assert {part.input for part in item.contributions} <= set(job.vehicle.standard_uncertainty)
    assert counted > 5


def test_the_board_on_the_centreline_by_hand(setups: dict[Job, Setup]) -> None:
    # x = wheelbase + overhang + distance with u 1.5, 2.5 and 1.5 mm; y = lateral with u 1.0 mm.
    (item,) = placed_in(setups[BOARD])
    assert item.covariance_xy_mm2
    (xx, xy), (yx, yy) = item.covariance_xy_mm2
    assert (xx, xy, yx, yy) == pytest.approx((1.5**2 + 2.5**2 + 1.5**2, 0.0, 0.0, 1.0))
    assert item.contributions
    shares = {part.input: part.share for part in item.contributions}
    assert shares == pytest.approx(
        {
            "vehicle.front_overhang_mm": 6.25 / 11.75,
            "vehicle.wheelbase_mm": 2.25 / 11.75,
            "placement.along.distance_mm": 2.25 / 11.75,
            "placement.lateral.distance_mm": 1.0 / 11.75,
        }
    )
    assert item.contributions[0].input == "vehicle.front_overhang_mm"  # the largest first


@pytest.mark.parametrize("job", DIFFERENT, ids=str)
def test_exactly_the_inputs_that_matter_and_that_nobody_is_sure_of_are_named(
    client: Snapline, job: Job
) -> None:
    """Every dimension and sensor figure is changed a little: those that move or turn a fixture matter."""
    setup = client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id)
    figures = {
        f"vehicle.{name}": getattr(setup.vehicle, name)
        for name in setup.vehicle.__struct_fields__
        if name != "sensors"
    }
    for name, sensor in setup.vehicle.sensors.items():
        for field in sensor.__struct_fields__:
            figures[f"vehicle.sensors.{name}.{field}"] = getattr(sensor, field)
    matter = set(SENTENCE)
    for name, value in figures.items():
        changed = client.setups.compute(
            vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, measured={name: (value or 0.0) + 0.5}
        )
        if stands(changed) != stands(setup):
            matter.add(name)
    assert set(setup.without_uncertainty) == matter - job.vehicle.standard_uncertainty.keys()
    assert len(set(setup.without_uncertainty)) == len(setup.without_uncertainty)


def test_once_all_is_stated_nothing_is_missing(client: Snapline, setups: dict[Job, Setup]) -> None:
    for job in COMPLETE:
        stated = dict.fromkeys(setups[job].without_uncertainty, 0.1)
        setup = client.setups.compute(
            vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, standard_uncertainty=stated
        )
        assert setup.without_uncertainty == ()
        assert all(item.covariance_xy_mm2 and item.u_z_mm and item.u_yaw_deg for item in placed_in(setup))


def test_in_the_bay_the_cars_own_place_counts_too(client: Snapline) -> None:
    bay = BayPose(x_mm=3000.0, y_mm=2000.0, heading_deg=90.0)
    setup = client.setups.compute(vehicle_id=BOARD.vehicle_id, procedure_id=BOARD.procedure_id, bay_pose=bay)
    assert set(BAY) <= set(setup.without_uncertainty)
    sure = client.setups.compute(
        vehicle_id=BOARD.vehicle_id,
        procedure_id=BOARD.procedure_id,
        bay_pose=bay,
        standard_uncertainty={"bay_pose.x_mm": 4.0, "bay_pose.y_mm": 3.0, "bay_pose.heading_deg": 0.0},
    )
    assert not set(BAY) & set(sure.without_uncertainty)
    (item,) = placed_in(sure)
    assert item.covariance_xy_mm2
    # The car stands across the bay, so what is uncertain along the car is uncertain along y.
    assert item.covariance_xy_mm2[0][0] == pytest.approx(1.0 + 4.0**2)
    assert item.covariance_xy_mm2[1][1] == pytest.approx(10.75 + 3.0**2)


def test_a_measurement_alone_does_not_make_an_answer_surer(client: Snapline) -> None:
    def measured(stated: dict[str, float]) -> Setup:
        return client.setups.compute(
            vehicle_id=BOARD.vehicle_id,
            procedure_id=BOARD.procedure_id,
            measured={"vehicle.wheelbase_mm": 2791.0},
            standard_uncertainty=stated,
        )

    catalogue, own = measured({}), measured({"vehicle.wheelbase_mm": 4.0})
    for setup, wheelbase_u_mm in ((catalogue, 1.5), (own, 4.0)):
        variance_mm2 = wheelbase_u_mm**2 + 2.5**2 + 1.5**2
        (item,) = placed_in(setup)
        assert item.covariance_xy_mm2
        assert item.covariance_xy_mm2[0][0] == pytest.approx(variance_mm2)


def test_what_is_said_of_an_unused_input_changes_nothing(client: Snapline, setups: dict[Job, Setup]) -> None:
    setup = client.setups.compute(
        vehicle_id=BOARD.vehicle_id,
        procedure_id=BOARD.procedure_id,
        standard_uncertainty={"vehicle.rear_track_mm": 50.0, "bay_pose.x_mm": 50.0},
    )
    assert placed_in(setup)[0].covariance_xy_mm2 == placed_in(setups[BOARD])[0].covariance_xy_mm2


def test_procedures_without_fixtures_have_nothing_to_be_sure_of(http: httpx.Client) -> None:
    for job in EVERY_JOB:
        if job.procedure.method != "static":
            body = {"vehicle_id": job.vehicle_id, "procedure_id": job.procedure_id}
            answer = http.post("/v1/setups", json=body).raise_for_status().json()
            assert (answer["without_uncertainty"], answer["unknown_dimensions"]) == ([], [])
