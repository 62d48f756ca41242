"""A car goes from its VIN to the floor through the SDK and the real service, blocking and with asyncio."""

import asyncio
from xml.etree import ElementTree

import pytest

from running import Service
from service.catalogue.demo import EXAMPLE_VINS, FIXTURES, VEHICLES
from snapline import (
    AsyncSnapline,
    BadRequest,
    DatumsDoNotFixAPoint,
    MissingDimension,
    NotFound,
    ProblemError,
    Snapline,
    Unauthorized,
)
from snapline.resources.vehicles import get_vehicle
from snapline.wire.geometry import Along, Height, Lateral, Placement, Sensor, VehicleGeometry
from snapline.wire.setups import Setup, SetupRequest
from snapline.wire.vehicles import Identification

CAR = "mirandeux-celadine-2023-eu"
VIN = EXAMPLE_VINS[CAR]
YES = {"option:corner_radars": "yes"}
PROCEDURE = "rear-radars-reflectors"
UNKNOWN_FRONT = "ostrivelle-pontaise-2021-eu"
GEOMETRY = VehicleGeometry(
    wheelbase_mm=2800,
    front_track_mm=1560,
    rear_track_mm=1580,
    front_overhang_mm=870,
    rear_overhang_mm=960,
    width_mm=1840,
    sensors={"left": Sensor(x_mm=2000, y_mm=900, z_mm=1000, yaw_deg=90)},
)
# Looking to the side, a line never meets the bumper.
PARALLEL = Placement(
    aim_line="sensor:left",
    along=Along(datum="front_bumper", distance_mm=1000),
    lateral=Lateral(datum="aim_line", distance_mm=0),
    height=Height(datum="floor", distance_mm=0),
)


def identified(first: Identification, answered: Identification) -> None:
    assert [candidate.vehicle.id for candidate in first.candidates] == [CAR]
    assert [question.id for question in first.questions] == list(YES)
    assert answered.questions == ()
    radars = next(s for s in answered.candidates[0].systems if s.id == "rear-radars")
    assert radars.fitted == "yes"


def set_up(setup: Setup, drawing: str) -> None:
    left, right = setup.stages[0].placements
    # The car is the same on both sides, and so are its reflectors.
    assert left.in_vehicle.x_mm == pytest.approx(right.in_vehicle.x_mm)
    assert left.in_vehicle.y_mm == pytest.approx(-right.in_vehicle.y_mm)
    assert left.in_vehicle.y_mm > 0
    assert ElementTree.fromstring(drawing).tag.endswith("svg")
    assert setup.invented
    assert "INVENTED" in drawing


def told(error: ProblemError, status: int, code: str, pointer: str) -> None:
    assert (error.status, error.code) == (status, code)
    assert [fault.pointer for fault in error.errors] == [pointer]
    assert error.request_id
    assert len(error.attempts) == 1  # nothing that the caller must change is tried again


def test_the_whole_job_blocking(client: Snapline) -> None:
    first = client.vehicles.identify(vin=VIN)
    identified(first, client.vehicles.identify(vin=VIN, answers=YES))
    vehicle = client.vehicles.get(first.candidates[0].vehicle.id)
    assert vehicle.procedures == VEHICLES[CAR].procedures
    system = client.vehicles.get_system(CAR, "rear-radars")
    assert PROCEDURE in {procedure.id for procedure in system.procedures}
    job = SetupRequest(vehicle_id=vehicle.id, procedure_id=PROCEDURE)
    setup = client.setups.compute(job)
    set_up(setup, client.setups.drawing(job))
    fixture = setup.stages[0].placements[0].fixture
    assert fixture
    assert client.fixtures.get(fixture.id).name == FIXTURES[fixture.id].name
    assert CAR in {item.vehicle_id for item in client.fixtures.vehicles(fixture.id, page_size=1)}
    assert fixture.id in {
        item.fixture_id for item in client.fixtures.match(capability="corner_radar_reflector").items
    }
    reflector = client.geometry.reflector(shape="trihedral_triangular", leg_mm=150, frequency_ghz=76.5)
    assert reflector.rcs_dbsm == pytest.approx(21.401, abs=0.001)  # 4 pi a^4 / (3 L^2), computed elsewhere


def test_lists_are_walked_page_by_page(client: Snapline) -> None:
    page = client.vehicles.list(page_size=10)
    assert [len(one.items) for one in page.pages()] == [10, 10, 10, len(VEHICLES) - 30]
    assert {vehicle.id for vehicle in client.vehicles.list(page_size=10)} == set(VEHICLES)
    assert {fixture.id for fixture in client.fixtures.list(page_size=7)} == set(FIXTURES)


def test_an_unchanged_document_is_not_sent_twice(client: Snapline) -> None:
    first, second = client.send(get_vehicle(CAR)), client.send(get_vehicle(CAR))
    assert (first.reused, second.reused) == (False, True)
    assert second.data is first.data
    assert second.request_id != first.request_id  # the service was asked, and said 304
    assert second.headers["catalogue-revision"] == "2"


def test_what_cannot_be_is_told_by_type(client: Snapline, demo_service: tuple[Service, str]) -> None:
    with pytest.raises(NotFound) as missing:
        client.vehicles.get("mirandeux-celadine-1923-eu")
    told(missing.value, 404, "NOT_FOUND", "")
    with pytest.raises(MissingDimension) as unknown:
        client.setups.compute(vehicle_id=UNKNOWN_FRONT, procedure_id="camera-board")
    told(unknown.value, 422, "MISSING_DIMENSION", "/measured/vehicle.front_overhang_mm")
    with pytest.raises(DatumsDoNotFixAPoint) as parallel:
        client.geometry.placement(vehicle=GEOMETRY, placement=PARALLEL)
    told(parallel.value, 422, "DATUMS_DO_NOT_FIX_A_POINT", "/placement/along/datum")
    with pytest.raises(BadRequest) as unnamed:
        client.setups.compute(vehicle_id=CAR, procedure_id="rear-radars")
    told(unnamed.value, 422, "UNKNOWN_NAME", "/procedure_id")
    with pytest.raises(BadRequest) as malformed:
        client.vehicles.identify(vin=VIN[:-1])
    told(malformed.value, 422, "INVALID_VALUE", "/vin")
    with Snapline(demo_service[0].url, "snl_not_a_key") as stranger, pytest.raises(Unauthorized) as refused:
        stranger.vehicles.get(CAR)
    told(refused.value, 401, "UNAUTHORIZED", "")


def test_the_whole_job_with_asyncio(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service

    async def job() -> None:
        async with AsyncSnapline(service.url, key) as client:
            first, answered = await asyncio.gather(
                client.vehicles.identify(vin=VIN), client.vehicles.identify(vin=VIN, answers=YES)
            )
            identified(first, answered)
            vehicle = await client.vehicles.get(CAR)
            assert vehicle.procedures == VEHICLES[CAR].procedures
            assert (await client.vehicles.get_system(CAR, "rear-radars")).system.kind == "rear_corner_radar"
            setup = await client.setups.compute(vehicle_id=CAR, procedure_id=PROCEDURE)
            set_up(setup, await client.setups.drawing(vehicle_id=CAR, procedure_id=PROCEDURE))
            assert {vehicle.id async for vehicle in client.vehicles.list(page_size=10)} == set(VEHICLES)
            page = await client.fixtures.list(page_size=7)
            assert len(page.items) == 7
            served = client.fixtures.vehicles("reflector-trihedral-150", page_size=2)
            assert CAR in {item.vehicle_id async for item in served}
            again = await client.send(get_vehicle(CAR))
            assert again.reused
            assert again.data is vehicle

    asyncio.run(job())


def test_what_cannot_be_is_told_by_type_with_asyncio(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service

    async def job() -> None:
        async with AsyncSnapline(service.url, key) as client:
            with pytest.raises(NotFound) as missing:
                await client.fixtures.get("board-of-directors")
            told(missing.value, 404, "NOT_FOUND", "")
            with pytest.raises(MissingDimension) as unknown:
                await client.setups.drawing(vehicle_id=UNKNOWN_FRONT, procedure_id="camera-board")
            told(unknown.value, 422, "MISSING_DIMENSION", "/measured/vehicle.front_overhang_mm")
            with pytest.raises(DatumsDoNotFixAPoint) as parallel:
                await client.geometry.placement(vehicle=GEOMETRY, placement=PARALLEL)
            told(parallel.value, 422, "DATUMS_DO_NOT_FIX_A_POINT", "/placement/along/datum")

    asyncio.run(job())


def test_both_clients_are_answered_alike(client: Snapline, demo_service: tuple[Service, str]) -> None:
    service, key = demo_service

    async def computed() -> Setup:
        async with AsyncSnapline(service.url, key) as other:
            return await other.setups.compute(vehicle_id=CAR, procedure_id=PROCEDURE)

    assert asyncio.run(computed()) == client.setups.compute(vehicle_id=CAR, procedure_id=PROCEDURE)
