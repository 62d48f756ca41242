"""What an answer that somebody acts on must say beside the figures."""

import pytest

from service.setups.job import COMPLETE, EVERY_JOB, Job
from snapline import Snapline
from snapline.wire.setups import Setup

ALWAYS = {"MAKER_GOVERNS", "FUNCTIONS_MAY_FAIL", "SECURE_VEHICLE"}
ON_THE_FLOOR = ALWAYS | {"ALIGNMENT_FIRST", "CAR_STAYS", "TRIP_HAZARD"}
RADARS = {"forward_radar", "front_corner_radar", "rear_corner_radar"}
# A weight is put on a seat and nothing is aimed by it.
ON_A_SEAT = Job("jorvantel-rhedgarn-2023-us", "seat-weight-check")
UNCHECKED = "ostrivelle-vallisse-2019-eu"


def codes(setup: Setup) -> set[str]:
    return {caution.code for caution in setup.cautions}


@pytest.mark.parametrize(
    ("job", "expected"),
    [
        (Job("quellovane-lirra-2016-eu", "camera-board"), ON_THE_FLOOR),
        (Job("brennhavik-skarra-2022-eu", "rear-radars-reflectors"), ON_THE_FLOOR | {"CLEAR_ZONE"}),
        (Job("fennhaul-stokerran-2020-us", "radar-reflector"), ON_THE_FLOOR | {"CLEAR_ZONE"}),
        (Job("mirandeux-aurelle-2021-eu", "laser-scanner-panel"), ON_THE_FLOOR | {"CLEAR_ZONE", "LASER"}),
        (Job("brennhavik-skarra-2024-eu", "night-vision-grid"), ON_THE_FLOOR | {"HEATED_GRID"}),
        (Job("quellovane-lirra-2020-eu", "camera-drive"), ALWAYS | {"ROAD"}),
        (Job("quellovane-lirra-2020-eu-emblem", "radar-drive"), ALWAYS | {"ROAD", "CLEAR_ZONE"}),
        (Job("kadoruma-numira-2021-au", "steering-angle-zero"), ALWAYS),
    ],
)
def test_the_cautions_are_those_of_the_work(client: Snapline, job: Job, expected: set[str]) -> None:
    setup = client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id)
    assert codes(setup) == expected
    assert all(caution.text.endswith(".") for caution in setup.cautions)


def test_radar_work_keeps_people_out_and_camera_work_does_not_say_so(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        kinds = {
            system.kind
            for system in job.vehicle.systems
            for requirement in system.requirements
            for way in requirement.alternatives
            if job.procedure_id in way.procedures
        }
        assert ("CLEAR_ZONE" in codes(setup)) == bool(kinds & (RADARS | {"laser_scanner"})), job
        aimed = job != ON_A_SEAT
        assert codes(setup) >= (ON_THE_FLOOR if aimed else ON_THE_FLOOR - {"ALIGNMENT_FIRST", "CAR_STAYS"})


def test_a_match_by_property_is_cautioned_and_only_that(client: Snapline, setups: dict[Job, Setup]) -> None:
    setup = client.setups.compute(
        vehicle_id="kadoruma-arvolen-2022-au", procedure_id="radar-reflector", by_property=True
    )
    (text,) = (caution.text for caution in setup.cautions if caution.code == "OUR_ARITHMETIC")
    assert "not named by the source" in text
    assert not any("OUR_ARITHMETIC" in codes(setup) for setup in setups.values())


def test_what_nobody_checked_is_listed_with_its_place_in_the_source(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        source = job.procedure.source
        listed = f"{source.source}, {source.locator}" in setup.unchecked
        assert listed == (source.checked_on is None), job
        assert (setup.unchecked != ()) == (job.vehicle_id == UNCHECKED)


def test_everything_says_that_it_is_invented_and_where_it_comes_from(client: Snapline) -> None:
    for job in EVERY_JOB:
        if job in COMPLETE or job.procedure.method != "static":
            setup = client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id)
            assert setup.invented
            assert setup.catalogue_revision == 2
            assert job.procedure.source.source in {source.id for source in setup.sources}
            assert setup.preparation == job.procedure.preparation
            assert (setup.vehicle_id, setup.procedure_id) == job
