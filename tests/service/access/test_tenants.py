"""One group never sees another's data: every operation is asked for one group's things with another's key."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import httpx
import msgspec
import pytest

from running import Service
from service import small
from service.access.operations import Operation, operations
from service.catalogue.demo import BAYS, EXAMPLE_VINS, FIXTURES, SITES, SOURCES, VEHICLES
from service.shop import Shop
from service.sites.workshop import ASSET, BAY, SITE
from snapline_service.access import keys
from snapline_service.database import new_id
from snapline_service.demo import scenario

VEHICLE = "mirandeux-celadine-2023-eu"
FIXTURE = "board-two-circle"
NAMES = {
    "vehicle_id": VEHICLE,
    "system_id": "camera",
    "fixture_id": FIXTURE,
    "site_id": "mill-road",
    "bay_id": "mill-long",
    "asset_id": "mill-board-two-circle",
}
HOLDER = "Wilhelmina of the demo group"
SENSOR = {"x_mm": 2400.0, "y_mm": 0.0, "z_mm": 1290.0}
# What the demo group would ask; an operation without an entry here cannot be forgotten.
QUESTIONS: dict[str, list[dict[str, Any] | None]] = {
    "compute_aim_tolerance": [{}],
    "compute_placement": [{}],
    "compute_reflector": [{}],
    "compute_setup": [{"vehicle_id": VEHICLE, "procedure_id": "camera-board"}],
    "create_asset": [{**ASSET, "site": "mill-road", "fixture": FIXTURE}],
    "create_bay": [BAY],
    "create_site": [SITE],
    "delete_asset": [None],
    "delete_bay": [None],
    "delete_site": [None],
    "get_asset": [None],
    "get_bay": [None],
    "get_fixture": [None],
    "get_site": [None],
    "get_vehicle": [None],
    "get_vehicle_system": [None],
    "issue_key": [{"holder": HOLDER}],
    "identify_vehicle": [
        {"vin": EXAMPLE_VINS[VEHICLE]},
        {"make": "Mirandeux"},
        {"make": "Mirandeux", "model": "Celadine", "model_year": 2024},
        {"make": "Mirandeaux"},
    ],
    "list_assets": [None],
    "list_bays": [None],
    "list_fixture_vehicles": [None],
    "list_fixtures": [None],
    "list_keys": [None],
    "list_sites": [None],
    "list_vehicles": [None],
    "replace_bay": [{**BAY, "id": "mill-long"}],
    "revoke_key": [None],
    "update_asset": [{"condition": "in_service"}],
    "update_bay": [{"light_min_lux": 400}],
    "update_site": [{"latitude_deg": 52}],
    "match_fixtures": [
        {"capability": "two_circle_pattern"},
        {"radar": {"frequency_ghz": 77, "min_rcs_dbsm": -60}},
    ],
}
# Calculators know no catalogue, so they have no answer that differs between groups.
NO_CATALOGUE = {"compute_aim_tolerance", "compute_placement", "compute_reflector"}
# These say what they were told, or that there is still something in the site.
ECHO = {"create_asset", "create_bay", "create_site", "delete_site", "replace_bay"}


class Neighbours(NamedTuple):
    """A client of the demo group, and one of a small group in the same service; what only the former has."""

    demo: httpx.Client
    small: httpx.Client
    key_id: str
    secrets: frozenset[str]

    def ask(self, client: httpx.Client, operation: Operation, body: dict[str, Any] | None) -> httpx.Response:
        """Ask for what belongs to the demo group."""
        path = operation.at(**NAMES, key_id=self.key_id)
        stored = path.startswith(("/v1/sites", "/v1/assets")) and operation.method != "GET"
        headers = {"if-match": "*"} if stored else {}
        if operation.method == "PATCH":
            headers["content-type"] = "application/merge-patch+json"
        # What is stored is asked for as far as it goes, and nothing changed.
        query = {"validate_only": "true"} if stored else None
        return client.request(operation.method, path, json=body, headers=headers, params=query)

    def leaked(self, answer: httpx.Response) -> set[str]:
        """Return what an answer says of the demo group that the request did not say itself."""
        asked = (str(answer.request.url) + answer.request.content.decode()).casefold()
        said = (answer.text + str(answer.headers)).casefold()
        return {text for text in self.secrets if text in said and text not in asked}


@pytest.fixture(scope="module")
def neighbours(
    demo_service: tuple[Service, str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Neighbours]:
    service, key = demo_service
    with service.engine() as engine:
        theirs = keys.issue(
            engine, service.settings.secret, group=scenario.GROUP, holder=HOLDER, scopes=["read"]
        )
        folder = tmp_path_factory.mktemp("neighbour")
        shop = Shop(engine, service.settings, folder, f"neighbour-{new_id('x')}")
        shop.put(small.catalogue())
        token = shop.key().token
    secrets = {*texts_of_the_demo(), theirs.key_id, theirs.holder_id}
    headers = ({"authorization": f"Bearer {each}"} for each in (key, token))
    demo, small_ = (httpx.Client(base_url=service.url, headers=each) for each in headers)
    with demo, small_:
        yield Neighbours(demo, small_, theirs.key_id, frozenset(secrets))


def texts_of_the_demo() -> set[str]:
    """Return what only the demo group's catalogue says: names, titles, words, ids."""
    words = {vehicle.make for vehicle in VEHICLES.values()} | {v.model for v in VEHICLES.values()}
    words |= {*VEHICLES, *FIXTURES, *SOURCES} | {fixture.name for fixture in FIXTURES.values()}
    words |= {source.title for source in SOURCES.values()}
    words |= {p.name for vehicle in VEHICLES.values() for p in vehicle.procedures}
    words |= {site.name for site in SITES} | {bay.name for bay in BAYS.values()}
    words |= {asset.serial for site in SITES for asset in site.assets}
    ours = msgspec.json.encode(small.catalogue()).decode().casefold()
    return {word.casefold() for word in words if word.casefold() not in ours}


def test_every_operation_has_its_question_here(neighbours: Neighbours) -> None:
    assert {operation.id for operation in operations(neighbours.demo)} == set(QUESTIONS)


def test_asked_with_the_neighbours_key_nothing_of_it_appears(neighbours: Neighbours) -> None:
    for operation in operations(neighbours.small):
        for body in QUESTIONS[operation.id]:
            answer = neighbours.ask(neighbours.small, operation, body)
            assert answer.status_code in (200, 201, 404, 422), (operation, answer.text)
            assert neighbours.leaked(answer) == set(), operation
            if "{" in operation.path or operation.id == "compute_setup":
                assert answer.status_code in (404, 422), (operation, answer.text)


def test_the_demo_group_itself_is_answered_with_its_own(neighbours: Neighbours) -> None:
    """Else the test before would prove nothing; and the neighbour has revoked no key of this group."""
    listed = {key["id"]: key for key in neighbours.demo.get("/v1/keys").json()["items"]}
    assert listed[neighbours.key_id]["revoked_at"] is None
    for operation in operations(neighbours.demo):
        for body in QUESTIONS[operation.id]:
            answer = neighbours.ask(neighbours.demo, operation, body)
            if operation.id not in NO_CATALOGUE | ECHO:
                assert answer.status_code in (200, 201), (operation, answer.text)
                assert neighbours.leaked(answer), operation


def ids(response: httpx.Response) -> set[str]:
    return {item["id"] for item in response.raise_for_status().json()["items"]}


def test_lists_hold_each_groups_own(neighbours: Neighbours) -> None:
    assert ids(neighbours.small.get("/v1/vehicles")) == {"ambrel-2020", "brenn-2021"}
    assert ids(neighbours.small.get("/v1/fixtures")) == {"board"}
    assert ids(neighbours.demo.get("/v1/vehicles", params={"page_size": 200})) == set(VEHICLES)
    assert ids(neighbours.demo.get("/v1/fixtures", params={"page_size": 200})) == set(FIXTURES)


@pytest.mark.parametrize("filters", [{"q": "Mirandeux"}, {"make": "Mirandeux"}, {"model": "Celadine"}])
def test_no_filter_finds_the_neighbours_vehicles(neighbours: Neighbours, filters: dict[str, str]) -> None:
    assert ids(neighbours.demo.get("/v1/vehicles", params=filters)) != set()
    assert ids(neighbours.small.get("/v1/vehicles", params=filters)) == set()


def test_the_neighbours_page_token_leads_into_ones_own_list(neighbours: Neighbours) -> None:
    token = neighbours.demo.get("/v1/vehicles", params={"page_size": 1}).json()["next_page_token"]
    answer = neighbours.small.get("/v1/vehicles", params={"page_token": token})
    assert neighbours.leaked(answer) == set()
    assert answer.status_code == 422 or ids(answer) <= {"ambrel-2020", "brenn-2021"}


def test_the_neighbours_etag_is_no_way_in(neighbours: Neighbours) -> None:
    path = f"/v1/vehicles/{VEHICLE}"
    etag = neighbours.demo.get(path).headers["etag"]
    assert neighbours.demo.get(path, headers={"if-none-match": etag}).status_code == 304
    assert neighbours.small.get(path, headers={"if-none-match": etag}).status_code == 404
    assert neighbours.small.get(path, headers={"if-none-match": "*"}).status_code == 404


def test_requests_of_both_in_turn_are_kept_apart(neighbours: Neighbours) -> None:
    for _ in range(20):
        assert neighbours.demo.get("/v1/vehicles").headers["catalogue-revision"] == "2"
        assert neighbours.small.get("/v1/vehicles").headers["catalogue-revision"] == "1"


def test_equal_names_in_both_groups_are_different_things(
    neighbours: Neighbours, demo_service: tuple[Service, str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A third group has the small group's catalogue with another distance."""
    service, _ = demo_service
    with service.engine() as engine:
        folder = tmp_path_factory.mktemp("third")
        shop = Shop(engine, service.settings, folder, f"third-{new_id('x')}")
        shop.put([*small.catalogue()[:3], small.vehicle(distance_mm=2555)])
        headers = {"authorization": f"Bearer {shop.key().token}"}
    theirs = httpx.get(f"{service.url}/v1/vehicles/ambrel-2020", headers=headers)
    ours = neighbours.small.get("/v1/vehicles/ambrel-2020")
    assert "2555" in theirs.text
    assert "2555" not in ours.text
    assert theirs.headers["etag"] != ours.headers["etag"]
