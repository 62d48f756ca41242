"""What a person may choose: the fixture, its carrier, and a distance inside the source's range."""

from math import atan2, cos, degrees, hypot, log10, pi, radians, sin

import pytest

from service.catalogue.demo import FIXTURES
from service.setups.job import COMPLETE, Job
from snapline import BadRequest, Snapline
from snapline.wire.common import Pose
from snapline.wire.geometry import Sensor
from snapline.wire.setups import PlacedFixture, PlacementChoice, Setup

RANGE = Job("kadoruma-arvolen-2018-jp", "camera-board")  # 1,500 to 3,500 mm ahead of the front bumper
BY_PROPERTY = Job("kadoruma-arvolen-2022-au", "radar-reflector")  # 18 to 28 dBsm at 76.5 GHz
BOARD = Job("quellovane-lirra-2016-eu", "camera-board")
CARRIED = Job("quellovane-sablune-2020-eu", "camera-chequer")


def computed(client: Snapline, job: Job, by_property: bool = False, **choices: PlacementChoice) -> Setup:
    return client.setups.compute(
        vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, placements=choices, by_property=by_property
    )


def only(setup: Setup) -> PlacedFixture:
    ((item,),) = (stage.placements for stage in setup.stages)
    return item


def refused(
    client: Snapline, job: Job, by_property: bool = False, **choices: PlacementChoice
) -> tuple[str, str]:
    with pytest.raises(BadRequest) as caught:
        computed(client, job, by_property, **choices)
    (fault,) = caught.value.errors
    return fault.pointer, fault.detail


# --- distance --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("distance_mm", [1500.0, 1999.5, 2500.0, 3500.0])
def test_a_distance_inside_the_range_is_set_out(
    client: Snapline, setups: dict[Job, Setup], distance_mm: float
) -> None:
    item = only(computed(client, RANGE, board=PlacementChoice(along_distance_mm=distance_mm)))
    assert item.in_vehicle.x_mm - only(setups[RANGE]).in_vehicle.x_mm == pytest.approx(distance_mm - 2500.0)
    assert item.placement.along.distance_mm == distance_mm
    assert item.sentence.startswith(
        f"{distance_mm:,.1f}".removesuffix(".0") + " mm ahead of the front bumper"
    )


@pytest.mark.parametrize("distance_mm", [1499.9, 3500.1, 0.0, -2500.0])
def test_a_distance_outside_the_range_is_refused_with_the_range(client: Snapline, distance_mm: float) -> None:
    pointer, detail = refused(client, RANGE, board=PlacementChoice(along_distance_mm=distance_mm))
    assert pointer == "/placements/board/along_distance_mm"
    assert "Give 1,500 to 3,500 mm." in detail


def test_without_a_range_the_distance_of_the_source_is_the_only_one(client: Snapline) -> None:
    assert (
        only(computed(client, BOARD, board=PlacementChoice(along_distance_mm=3200.0))).in_vehicle.x_mm
        == 5740.0
    )
    pointer, detail = refused(client, BOARD, board=PlacementChoice(along_distance_mm=3201.0))
    assert pointer == "/placements/board/along_distance_mm"
    assert "3,200 mm" in detail


# --- fixture ---------------------------------------------------------------------------------------------


def test_the_fixture_that_the_source_names_is_taken_first(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        for stage in setup.stages:
            for item in stage.placements:
                need = job.placements[item.id].need
                if need.named:
                    assert item.fixture
                    assert (item.fixture.id, item.fixture.match) == (need.named[0], "named")
                    assert item.fixture.reference_point in item.sentence.lower()


def test_another_fixture_serves_by_a_statement_of_equivalence(client: Snapline) -> None:
    item = only(computed(client, BOARD, board=PlacementChoice(fixture_id="board-two-circle-folding")))
    assert item.fixture
    assert (item.fixture.id, item.fixture.match) == ("board-two-circle-folding", "equivalent")
    assert len(item.feet) == len(FIXTURES["board-two-circle-folding"].feet)


def test_a_carrier_can_be_chosen_too(client: Snapline, setups: dict[Job, Setup]) -> None:
    first = only(setups[CARRIED])
    assert first.carrier
    assert first.carrier_needed == "board_stand"
    assert first.carrier.id in ("stand-board", "stand-board-light")
    other = ({"stand-board", "stand-board-light"} - {first.carrier.id}).pop()
    item = only(computed(client, CARRIED, board=PlacementChoice(carrier_id=other)))
    assert item.carrier
    assert item.carrier.id == other
    assert len(item.feet) == len(FIXTURES[other].feet)
    pointer, _ = refused(client, CARRIED, board=PlacementChoice(carrier_id="stand-radar"))
    assert pointer == "/placements/board/carrier_id"


@pytest.mark.parametrize("wanted", ["board-wide", "reflector-trihedral-150", "mat-long"])
def test_an_unsuitable_fixture_is_refused_with_one_that_serves(client: Snapline, wanted: str) -> None:
    for by_property in (False, True):
        pointer, detail = refused(client, BOARD, by_property, board=PlacementChoice(fixture_id=wanted))
        assert pointer == "/placements/board/fixture_id"
        assert f"'{wanted}' does not meet what is needed here." in detail
        assert "board-two-circle" in detail


# --- by property -----------------------------------------------------------------------------------------


def rcs_dbsm(name: str) -> float:
    """Return the peak at 76.5 GHz by the published formulas, wavelength c / f = 3.9188557 mm.

    4 pi a^4 / (3 L^2) and 12 pi a^4 / L^2 for trihedrals, 8 pi w^2 h^2 / L^2 for a dihedral, 4 pi A^2 / L^2
    for a plate (Skolnik, Radar Handbook; ESA STEP forum, topic 14333).
    """
    reflector, wavelength_mm = FIXTURES[name].reflector, 3.9188557
    assert reflector
    leg, area = reflector.leg_mm or 0.0, (reflector.width_mm or 0.0) * (reflector.height_mm or 0.0)
    squared_mm2 = {
        "trihedral_triangular": 4 * pi * leg**4 / 3,
        "trihedral_square": 12 * pi * leg**4,
        "dihedral": 8 * pi * area**2,
        "plate": 4 * pi * area**2,
    }[reflector.shape]
    return 10 * log10(squared_mm2 / wavelength_mm**2 / 1e6)


def test_nothing_is_chosen_by_property_unless_that_is_allowed(
    client: Snapline, setups: dict[Job, Setup]
) -> None:
    item = only(setups[BY_PROPERTY])
    assert (item.fixture, item.capability) == (None, "reflector_18_to_28_dbsm")
    assert "OUR_ARITHMETIC" not in {caution.code for caution in setups[BY_PROPERTY].cautions}
    pointer, detail = refused(
        client, BY_PROPERTY, reflector=PlacementChoice(fixture_id="reflector-trihedral-150")
    )
    assert pointer == "/placements/reflector/fixture_id"
    assert "not named by the source" in detail
    assert "by_property" in detail


def test_by_property_a_fixture_is_chosen_whose_cross_section_lies_inside(client: Snapline) -> None:
    setup = computed(client, BY_PROPERTY, by_property=True)
    item = only(setup)
    assert item.fixture
    assert item.fixture.match == "by_property"
    assert 18.0 <= rcs_dbsm(item.fixture.id) <= 28.0
    assert "OUR_ARITHMETIC" in {caution.code for caution in setup.cautions}


def test_exactly_the_fixtures_inside_the_limits_are_accepted_by_property(client: Snapline) -> None:
    reflecting = [name for name, fixture in FIXTURES.items() if fixture.reflector]
    inside = {name for name in reflecting if 18.0 <= rcs_dbsm(name) <= 28.0}
    assert 2 <= len(inside) < len(reflecting)
    for name in reflecting:
        choice = PlacementChoice(fixture_id=name)
        if name in inside:
            setup = computed(client, BY_PROPERTY, by_property=True, reflector=choice)
            assert "OUR_ARITHMETIC" in {caution.code for caution in setup.cautions}
        else:
            _, detail = refused(client, BY_PROPERTY, by_property=True, reflector=choice)
            assert f"{rcs_dbsm(name):.1f} dBsm" in detail


def test_a_reflector_without_a_data_plate_is_not_accepted(client: Snapline) -> None:
    choice = PlacementChoice(fixture_id="reflector-unmarked")
    _, detail = refused(client, BY_PROPERTY, by_property=True, reflector=choice)
    assert "not known" in detail


# --- the tolerance that follows from the sensor's allowed aim error ----------------------------------------


def direction(sensor: Sensor, x: float, y: float, z: float) -> tuple[float, float]:
    """Return bearing and elevation [degrees] of a point as the sensor sees it."""
    dx, dy, dz = x - sensor.x_mm, y - sensor.y_mm, z - sensor.z_mm
    return degrees(atan2(dy, dx)), degrees(atan2(dz, hypot(dx, dy)))


def used_up(job: Job, sensor: Sensor, pose: Pose, axis: int, by_mm: float) -> float:
    """Return which part of the allowance a shift along one axis uses up: along and across the aim, or up."""
    allowance = job.procedure.aim_allowance
    assert allowance
    c, s = cos(radians(sensor.yaw_deg)), sin(radians(sensor.yaw_deg))
    unit = ((c, s, 0.0), (-s, c, 0.0), (0.0, 0.0, 1.0))[axis]
    before = direction(sensor, pose.x_mm, pose.y_mm, pose.z_mm)
    after = direction(
        sensor, pose.x_mm + by_mm * unit[0], pose.y_mm + by_mm * unit[1], pose.z_mm + by_mm * unit[2]
    )
    parts = [abs(after[0] - before[0]) / allowance.yaw_deg]
    if allowance.elevation_deg:
        parts.append(abs(after[1] - before[1]) / allowance.elevation_deg)
    return max(parts)


ALLOWING = [job for job in COMPLETE if job.procedure.aim_allowance]


@pytest.mark.parametrize("job", ALLOWING, ids=str)
def test_a_shift_by_the_aim_tolerance_uses_up_the_allowance_and_no_more(
    setups: dict[Job, Setup], job: Job
) -> None:
    allowance = job.procedure.aim_allowance
    assert allowance
    sensor = job.vehicle.sensors[allowance.sensor]
    given = 0
    for item in (item for stage in setups[job].stages for item in stage.placements):
        if (found := item.aim_tolerance) is None:
            continue
        given += 1
        assert found.lateral_mm
        for axis, size_mm in enumerate((found.along_mm, found.lateral_mm, found.height_mm)):
            if size_mm is None:
                # Along the sight the bearing never changes; height counts only where it is limited.
                assert axis == 0 or (axis == 2 and allowance.elevation_deg is None)
                continue
            both_ways = (size_mm, -size_mm)
            assert max(used_up(job, sensor, item.in_vehicle, axis, by) for by in both_ways) == pytest.approx(
                1.0
            )
            assert max(used_up(job, sensor, item.in_vehicle, axis, by * 0.99) for by in both_ways) < 1.0
    assert given == 1  # the allowance is that of one sensor


def test_the_tolerance_belongs_to_what_its_sensor_looks_at(setups: dict[Job, Setup]) -> None:
    # The right reflector stands 81 degrees off the left radar's axis: nothing is said of it.
    setup = setups[Job("brennhavik-skarra-2022-eu", "rear-radars-reflectors")]
    tolerance = {item.id: item.aim_tolerance for stage in setup.stages for item in stage.placements}
    assert tolerance["reflector-left"]
    assert tolerance["reflector-right"] is None
    # Nor of the line laser behind a car whose scanner looks ahead.
    setup = setups[Job("mirandeux-aurelle-2021-eu", "laser-scanner-panel")]
    tolerance = {item.id: item.aim_tolerance for stage in setup.stages for item in stage.placements}
    assert [name for name, found in tolerance.items() if found] == ["panel"]


def test_without_an_allowance_there_is_no_aim_tolerance(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        if job.procedure.aim_allowance is None:
            assert all(item.aim_tolerance is None for stage in setup.stages for item in stage.placements)
