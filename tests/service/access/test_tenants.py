"""One group never sees another's data: every operation is asked for one group's things with another's key."""

from collections.abc import Iterator
from typing import NamedTuple

import httpx
import msgspec
import pytest

from conftest import ENGINES, demo_in
from contract.api import OPERATIONS, Operation
from contract.scene import DELETES, Scene
from running import PostgreSQL, running
from service import small
from service.catalogue.demo import BAYS, EXAMPLE_VINS, FIXTURES, SITES, SOURCES, VEHICLES
from service.shop import Shop
from snapline.wire.drafts import DraftRequest
from snapline.wire.notes import NoteRequest
from snapline.wire.webhooks import WebhookRequest
from snapline_service import examples
from snapline_service.access import keys
from snapline_service.database import new_id
from snapline_service.demo import scenario

VEHICLE = "mirandeux-celadine-2023-eu"
HOLDER = "Wilhelmina of the demo group"
# What the demo group keeps beside its catalogue, in words that no example has.
OWN_WORDS = ("ours alone to correct", "ours alone to know", "ours.example.com", "our own order 77")
# What is told of these to the group itself has words of its own in it.
TELLING = """
    compare_draft compare_revisions get_asset get_bay get_draft_fixture get_draft_impact
    get_draft_source get_draft_vehicle get_fixture get_note get_site get_vehicle get_vehicle_system
    get_visit list_assets list_audit list_changes list_draft_changes list_drafts list_fixture_vehicles
    list_fixtures list_keys list_notes list_sites list_vehicles list_visits list_webhooks
"""
VIN = {"vin": EXAMPLE_VINS[VEHICLE]}


class Neighbours(NamedTuple):
    """A client of the demo group, and one of a small group in the same service; what only the former has."""

    scene: Scene
    small: httpx.Client
    secrets: frozenset[str]

    @property
    def demo(self) -> httpx.Client:
        """The client of the demo group."""
        return self.scene.first

    def ask(self, client: httpx.Client, operation: Operation) -> httpx.Response:
        """Ask for what belongs to the demo group, as the example of the operation does."""
        names = self.scene.names(operation)
        changes = {"if-match": "*"} if operation.method != "get" else {}
        tried = {"validate_only": "true"} if operation.id in DELETES else {}
        answer = client.send(operation.request(client, names, headers=changes, params=tried))
        self.scene.clear(operation, names)
        return answer

    def leaked(self, answer: httpx.Response) -> set[str]:
        """Return what an answer says of the demo group that the request did not say itself."""
        asked = (str(answer.request.url) + answer.request.content.decode()).casefold()
        said = (answer.text + str(answer.headers)).casefold()
        return {text for text in self.secrets if text in said and text not in asked}


@pytest.fixture(scope="module", params=ENGINES)
def neighbours(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, postgresql: PostgreSQL | None
) -> Iterator[Neighbours]:
    folder = tmp_path_factory.mktemp("neighbour")
    settings, key = demo_in(folder, request.param, postgresql)
    with running(settings) as service, service.engine() as engine, Scene(service, key) as scene:
        theirs = keys.issue(engine, settings.secret, group=scenario.GROUP, holder=HOLDER, scopes=["read"])
        shop = Shop(engine, settings, folder / "files", f"neighbour-{new_id('x')}")
        shop.put(small.catalogue())
        keep_something(scene)
        secrets = {*texts_of_the_demo(), *OWN_WORDS, theirs.key_id, theirs.holder_id}
        headers = {"authorization": f"Bearer {shop.key().token}"}
        with httpx.Client(base_url=service.url, headers=headers, timeout=30) as neighbour:
            yield Neighbours(scene, neighbour, frozenset(secrets))


def keep_something(scene: Scene) -> None:
    """Have the demo group keep something of every kind."""
    correct, know, address, order = OWN_WORDS
    visit = examples.BODIES["keep_visit"]
    another_day = msgspec.structs.replace(visit.request, date="2027-06-17")
    for path, body in (
        ("/v1/drafts", DraftRequest(note=correct)),
        ("/v1/notes", NoteRequest(vehicle_id=VEHICLE, text=know)),
        ("/v1/webhooks", WebhookRequest(url=f"https://{address}/")),
        ("/v1/visits", msgspec.structs.replace(visit, request=another_day, reference=order)),
    ):
        scene.first.post(path, content=msgspec.json.encode(body)).raise_for_status()


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


@pytest.mark.parametrize("operation", OPERATIONS.values(), ids=OPERATIONS)
def test_asked_with_the_neighbours_key_nothing_of_it_appears(
    neighbours: Neighbours, operation: Operation
) -> None:
    answer = neighbours.ask(neighbours.small, operation)
    assert answer.status_code in (200, 201, 404, 409, 422)
    assert neighbours.leaked(answer) == set()
    if any(p["in"] == "path" and p["name"].endswith("_id") for p in operation.parameters):
        assert answer.status_code == 404


@pytest.mark.parametrize("operation", [OPERATIONS[name] for name in TELLING.split()], ids=TELLING.split())
def test_the_demo_group_itself_is_answered_with_its_own(neighbours: Neighbours, operation: Operation) -> None:
    """Else the test before would prove nothing."""
    answer = neighbours.ask(neighbours.demo, operation)
    assert answer.status_code == 200
    assert neighbours.leaked(answer)


def test_the_neighbour_has_revoked_no_key_of_this_group(neighbours: Neighbours) -> None:
    listed = neighbours.demo.get("/v1/keys").json()["items"]
    assert [key["revoked_at"] for key in listed if key["holder_name"] == HOLDER] == [None]


@pytest.mark.parametrize("asked", [VIN, {"make": "Mirandeux"}, {"make": "Mirandeaux"}])
def test_no_car_of_the_demo_group_is_recognised(neighbours: Neighbours, asked: dict[str, str]) -> None:
    assert neighbours.leaked(neighbours.demo.post("/v1/vehicles/identify", json=asked))
    assert neighbours.leaked(neighbours.small.post("/v1/vehicles/identify", json=asked)) == set()


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
        assert int(neighbours.demo.get("/v1/vehicles").headers["catalogue-revision"]) > 1
        assert neighbours.small.get("/v1/vehicles").headers["catalogue-revision"] == "1"


def test_equal_names_in_both_groups_are_different_things(
    neighbours: Neighbours, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A third group has the small group's catalogue with another distance."""
    service = neighbours.scene.service
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
