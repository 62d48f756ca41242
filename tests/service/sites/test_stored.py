"""Sites, bays and assets are created, read, changed and deleted over the API, on both engines."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import httpx
import pytest

from running import Service
from service.sites.conftest import NewWorkshop
from service.sites.workshop import ASSET, BAY, SITE, Workshop, faults
from snapline_service.database import reading
from snapline_service.sites import store

PLACES = ["/v1/sites/elm-yard", "/v1/sites/elm-yard/bays/one", "/v1/assets/board-1"]
every_place = pytest.mark.parametrize("path", PLACES)


def test_what_was_sent_is_what_is_read(workshop: Workshop) -> None:
    for path, sent in zip(PLACES, (SITE, BAY, ASSET), strict=True):
        assert workshop.http.get(path).json() == sent


def test_what_is_read_can_be_sent_back_as_a_whole(workshop: Workshop) -> None:
    path = PLACES[1]
    read = workshop.http.get(path)
    put = workshop.http.put(path, json=read.json(), headers={"if-match": read.headers["etag"]})
    assert (put.status_code, put.json()) == (200, read.json())
    assert put.headers["etag"] == read.headers["etag"], "nothing has changed"


def test_an_id_is_given_once(workshop: Workshop) -> None:
    for path, sent in (("/v1/sites", SITE), ("/v1/sites/elm-yard/bays", BAY), ("/v1/assets", ASSET)):
        again = workshop.http.post(path, json=sent)
        assert (again.status_code, again.json()["code"]) == (409, "CONFLICT")
        assert again.json()["errors"][0]["pointer"] == "/id"
        assert sent["id"] in again.json()["detail"]


def test_two_sites_may_have_bays_of_the_same_id(workshop: Workshop) -> None:
    workshop.add("/v1/sites", SITE, id="oak-yard")
    workshop.add("/v1/sites/oak-yard/bays", BAY, name="Another")
    assert workshop.http.get("/v1/sites/oak-yard/bays/one").json()["name"] == "Another"
    assert workshop.http.get("/v1/sites/elm-yard/bays/one").json()["name"] == "Bay one"


def test_a_patch_changes_what_it_gives_and_null_removes(workshop: Workshop) -> None:
    path = PLACES[1]
    answer = workshop.patch(path, {"ceiling_mm": None, "light_max_lux": 900, "floor": {"u_z_mm": 0.8}})
    wanted = {**BAY, "light_max_lux": 900, "floor": {**BAY["floor"], "u_z_mm": 0.8}}
    del wanted["ceiling_mm"]
    assert answer.json() == workshop.http.get(path).json() == wanted


def test_an_asset_moves_to_another_site(workshop: Workshop) -> None:
    workshop.add("/v1/sites", SITE, id="oak-yard")
    assert workshop.patch("/v1/assets/board-1", {"site": "oak-yard"}).status_code == 200
    listed = {
        site: [one["id"] for one in workshop.http.get("/v1/assets", params={"site": site}).json()["items"]]
        for site in ("elm-yard", "oak-yard")
    }
    assert listed == {"elm-yard": [], "oak-yard": ["board-1"]}


def test_a_site_goes_only_when_it_is_empty(workshop: Workshop) -> None:
    refused = workshop.delete("/v1/sites/elm-yard")
    assert refused.status_code == 409
    assert "bays: 1, physical fixtures: 1" in refused.json()["detail"]
    assert workshop.delete("/v1/assets/board-1").json() == ASSET
    assert workshop.delete("/v1/sites/elm-yard").status_code == 409
    assert workshop.delete("/v1/sites/elm-yard/bays/one").json() == BAY
    assert workshop.delete("/v1/sites/elm-yard").json() == SITE
    assert workshop.http.get("/v1/sites/elm-yard").status_code == 404
    assert workshop.http.get("/v1/sites").json() == {"items": []}


@every_place
def test_what_is_deleted_is_gone_and_may_be_made_again(workshop: Workshop, path: str) -> None:
    workshop.delete("/v1/assets/board-1")
    workshop.delete("/v1/sites/elm-yard/bays/one")
    workshop.delete("/v1/sites/elm-yard")
    gone = workshop.delete(path)
    assert (gone.status_code, gone.json()["code"]) == (404, "NOT_FOUND")
    workshop.add("/v1/sites", SITE)


def test_lists_come_in_pages_that_lose_nothing(workshop: Workshop) -> None:
    names = [f"board-{number}" for number in range(1, 8)]
    for name in names[1:]:
        condition = "out_of_service" if name == "board-4" else "in_service"
        workshop.add("/v1/assets", ASSET, id=name, serial=name, condition=condition)
    seen: list[str] = []
    query: dict[str, str] = {"page_size": "3", "condition": "in_service"}
    while query:
        page = workshop.http.get("/v1/assets", params=query).json()
        assert len(page["items"]) <= 3
        seen += [one["id"] for one in page["items"]]
        token = page.get("next_page_token")
        query = {**query, "page_token": token} if token else {}
    assert seen == [name for name in names if name != "board-4"]


def test_a_page_token_belongs_to_its_filters(workshop: Workshop) -> None:
    workshop.add("/v1/assets", ASSET, id="board-2", serial="EY-002")
    page = workshop.http.get("/v1/assets", params={"page_size": 1, "site": "elm-yard"}).json()
    other = {"page_size": 1, "page_token": page["next_page_token"]}
    assert list(faults(workshop.http.get("/v1/assets", params=other))) == ["/page_token"]


def test_a_page_token_belongs_to_its_list(workshop: Workshop) -> None:
    workshop.add("/v1/assets", ASSET, id="board-2", serial="EY-002")
    token = workshop.http.get("/v1/assets", params={"page_size": 1}).json()["next_page_token"]
    for other in ("/v1/sites", "/v1/visits", "/v1/notes", "/v1/drafts", "/v1/fixtures"):
        query = {"page_size": 1, "page_token": token}
        assert list(faults(workshop.http.get(other, params=query))) == ["/page_token"], other


@pytest.mark.parametrize(
    ("path", "query", "pointer"),
    [
        ("/v1/assets", {"colour": "red"}, "/colour"),
        ("/v1/assets", {"page_size": "0"}, "/page_size"),
        ("/v1/assets", {"condition": "broken"}, "/condition"),
        ("/v1/sites", {"site": "elm-yard"}, "/site"),
        ("/v1/sites", {"page_token": "AA"}, "/page_token"),
    ],
)
def test_a_filter_that_is_not_described_is_pointed_at(
    workshop: Workshop, path: str, query: dict[str, str], pointer: str
) -> None:
    assert list(faults(workshop.http.get(path, params=query))) == [pointer]


@every_place
def test_another_group_sees_and_changes_nothing(
    workshop: Workshop, new_workshop: NewWorkshop, path: str
) -> None:
    other = new_workshop()
    attempts = [
        other.http.get(path),
        other.patch(path, {"name": "Ours"} if "assets" not in path else {"serial": "X"}, etag="*"),
        other.delete(path),
        other.http.get("/v1/sites/elm-yard/bays"),
        other.http.post("/v1/sites/elm-yard/bays", json={**BAY, "id": "two"}),
    ]
    assert {answer.status_code for answer in attempts} == {404}
    assert other.http.get("/v1/sites").json() == other.http.get("/v1/assets").json() == {"items": []}
    assert list(faults(other.http.post("/v1/assets", json=ASSET))) == ["/site"], "theirs is no site of ours"


def test_groups_may_use_the_same_ids(workshop: Workshop, new_workshop: NewWorkshop) -> None:
    other = new_workshop()
    other.add("/v1/sites", SITE, name="Theirs")
    assert workshop.http.get("/v1/sites/elm-yard").json()["name"] == SITE["name"]


@pytest.mark.parametrize(("scope", "reads", "writes"), [("read", 200, 403), ("equip", 403, 201)])
def test_reading_needs_read_and_writing_needs_equip(
    new_workshop: NewWorkshop, scope: str, reads: int, writes: int
) -> None:
    made = new_workshop(scope)
    assert made.http.get("/v1/sites").status_code == reads
    assert made.http.post("/v1/sites", json=SITE).status_code == writes


def test_before_a_catalogue_any_fixture_may_be_listed(new_workshop: NewWorkshop) -> None:
    made = new_workshop(published=False)
    made.add("/v1/sites", SITE)
    made.add("/v1/assets", ASSET, fixture="whatever")


def test_a_fixture_that_the_catalogue_lacks_is_told_with_the_nearest(workshop: Workshop) -> None:
    refused = workshop.http.post("/v1/assets", json={**ASSET, "id": "b2", "fixture": "bord"})
    assert faults(refused) == {"/fixture": "The catalogue has no fixture 'bord'. Did you mean 'board'?"}
    assert refused.json()["errors"][0]["code"] == "UNKNOWN_NAME"
    assert list(faults(workshop.patch("/v1/assets/board-1", {"fixture": "bord"}))) == ["/fixture"]


def test_the_row_tells_the_state_and_who_made_it(
    workshop: Workshop, demo_service: tuple[Service, str]
) -> None:
    path = "/v1/assets/board-1"

    def row() -> tuple[int, str, str]:
        with demo_service[0].engine() as engine, reading(engine) as session:
            found = store.asset(session, workshop.group_id, "board-1")
            assert found is not None
            return found.version, found.updated_by, found.updated_at

    first = row()
    assert first[:2] == (1, "Wanda")
    workshop.patch(path, {"serial": ASSET["serial"]})
    assert row() == first, "nothing has changed"
    workshop.patch(path, {"serial": "EY-002"})
    version, _, updated_at = row()
    assert version == 2
    assert updated_at > first[2]


def test_the_same_creation_sent_again_makes_one_and_says_the_same(workshop: Workshop) -> None:
    sent = {**ASSET, "id": "board-2", "serial": "EY-002"}
    once = {"idempotency-key": "twice"}
    first, again = (workshop.http.post("/v1/assets", json=sent, headers=once) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.content == again.content
    assert first.headers["etag"] == again.headers["etag"] == workshop.etag("/v1/assets/board-2")
    assert again.headers["idempotency-replayed"] == "true"


def test_the_same_patch_sent_again_is_not_stale(workshop: Workshop) -> None:
    path, etag = "/v1/assets/board-1", workshop.etag("/v1/assets/board-1")
    first, again = (
        workshop.patch(path, {"serial": "EY-9"}, etag, **{"idempotency-key": "p"}) for _ in range(2)
    )
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.headers["etag"] == again.headers["etag"]
    assert workshop.patch(path, {"serial": "EY-9"}, etag).status_code == 412


def test_validating_alone_changes_nothing(workshop: Workshop) -> None:
    before = [workshop.http.get(path).content for path in PLACES]
    only = {"validate_only": "true"}
    valid = workshop.http.post("/v1/assets", params=only, json={**ASSET, "id": "board-2", "serial": "EY-002"})
    assert (valid.status_code, valid.json()["id"]) == (200, "board-2")
    assert workshop.http.get("/v1/assets/board-2").status_code == 404
    assert workshop.patch(f"{PLACES[0]}?validate_only=true", {"name": "New"}, "*").json()["name"] == "New"
    gone = workshop.http.delete(PLACES[2], params=only, headers={"if-match": "*"})
    assert gone.status_code == 200
    assert workshop.http.post("/v1/assets", params=only, json=ASSET).status_code == 409
    assert [workshop.http.get(path).content for path in PLACES] == before


def together(count: int, workshop: Workshop, send: object) -> list[httpx.Response]:
    assert callable(send)
    start = threading.Barrier(count)

    def one(number: int) -> httpx.Response:
        with httpx.Client(base_url=workshop.http.base_url, headers=workshop.http.headers) as client:
            start.wait()
            answer = send(client, number)
            assert isinstance(answer, httpx.Response)
            return answer

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(one, range(count)))


def test_of_many_changes_under_one_etag_one_wins(workshop: Workshop) -> None:
    path, etag = "/v1/assets/board-1", workshop.etag("/v1/assets/board-1")
    headers = {"content-type": "application/merge-patch+json", "if-match": etag}

    def send(client: httpx.Client, number: int) -> httpx.Response:
        return client.patch(path, json={"serial": f"R-{number}"}, headers=headers)

    answers = together(8, workshop, send)
    assert sorted(answer.status_code for answer in answers) == [200, *[412] * 7]
    (winner,) = (answer for answer in answers if answer.status_code == 200)
    assert workshop.http.get(path).json() == winner.json()


def test_of_many_creations_of_one_id_one_wins(workshop: Workshop) -> None:
    def send(client: httpx.Client, number: int) -> httpx.Response:
        return client.post("/v1/sites", json={**SITE, "id": "ash-yard", "name": f"Ash {number}"})

    answers = together(8, workshop, send)
    assert sorted(answer.status_code for answer in answers) == [201, *[409] * 7]


def test_one_creation_sent_many_times_at_once_is_answered_alike(workshop: Workshop) -> None:
    def send(client: httpx.Client, _number: int) -> httpx.Response:
        body = {**SITE, "id": "ash-yard"}
        return client.post("/v1/sites", json=body, headers={"idempotency-key": "at once"})

    answers = together(8, workshop, send)
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1


def test_one_thing_is_listed_once_by_its_type_and_serial(workshop: Workshop) -> None:
    again = workshop.http.post("/v1/assets", json={**ASSET, "id": "board-2"})
    assert again.status_code == 422
    assert list(faults(again)) == ["/serial"]
    assert "'board-1' is a 'board' with the serial 'EY-001' already." in again.text
    workshop.add("/v1/assets", ASSET, id="board-2", serial="EY-002")
    assert list(faults(workshop.patch("/v1/assets/board-2", {"serial": "EY-001"}))) == ["/serial"]
    assert workshop.patch("/v1/assets/board-2", {"condition": "out_of_service"}).status_code == 200


def test_another_group_or_type_may_have_the_same_serial(
    workshop: Workshop, new_workshop: NewWorkshop
) -> None:
    other = new_workshop(published=False)
    other.add("/v1/sites", SITE)
    other.add("/v1/assets", ASSET, id="board-9")
    other.add("/v1/assets", ASSET, id="mat-1", fixture="mat")


def test_a_floor_is_not_surveyed_on_a_day_to_come(workshop: Workshop) -> None:
    in_two_days = str(datetime.now(UTC).date() + timedelta(days=2))
    for day in ("2999-01-01", in_two_days):
        refused = workshop.patch(PLACES[1], {"floor": {"surveyed_on": day}})
        assert list(faults(refused)) == ["/floor/surveyed_on"]
    today = str(datetime.now(UTC).date())
    assert workshop.patch(PLACES[1], {"floor": {"surveyed_on": today}}).status_code == 200
