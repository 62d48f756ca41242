"""The short way for look-ups answers as the full way does, and what it counts is counted."""

import asyncio
import re
from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from conftest import settings_in
from running import Service
from service import small
from service.shop import Shop
from snapline_service import database, metrics
from snapline_service.app import create_app
from snapline_service.front import Front
from snapline_service.request_ids import RequestIds

Sent = tuple[int, dict[bytes, bytes], bytes]
CAR = "/v1/vehicles/ambrel-2020"
ADDRESSES = [
    CAR,
    f"{CAR}/systems/camera",
    "/v1/vehicles?page_size=1",
    "/v1/fixtures",
    "/v1/vehicles/none",
]
# What says when, or which of the requests it was.
OF_THE_REQUEST = {b"x-request-id", b"ratelimit"}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shop, Front]]:
    """A group with a small catalogue, and the service as an application in this process."""
    folder = tmp_path_factory.mktemp("lane")
    settings = settings_in(folder, f"sqlite:///{folder}/snapline.db")
    database.migrate(settings.database)
    engine = database.connect(settings.database)
    shop = Shop(engine, settings, folder / "files", "shop")
    shop.put(small.catalogue())
    yield shop, create_app(settings)
    engine.dispose()


def scope(address: str, headers: dict[str, str]) -> dict[str, Any]:
    path, _, query = address.partition("?")
    fields = [(name.encode(), text.encode()) for name, text in headers.items()]
    return {"type": "http", "method": "GET", "path": path, "query_string": query.encode(), "headers": fields}


async def ask(front: Front, address: str, headers: dict[str, str]) -> Sent:
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {"type": "http.request", "body": b"", "more_body": False}

    await front(scope(address, headers), receive, send)
    start, body = sent
    return start["status"], dict(start["headers"]), body["body"]


def same(sent: Sent) -> Any:
    status, headers, body = sent
    told = {name: text for name, text in headers.items() if name not in OF_THE_REQUEST}
    return status, told, re.sub(rb'"request_id":"[^"]+"', b"", body)


@pytest.mark.parametrize("encoding", ["identity", "gzip"])
@pytest.mark.parametrize("address", ADDRESSES)
def test_a_caller_seen_lately_is_answered_as_one_seen_first(
    service: tuple[Shop, Front], address: str, encoding: str
) -> None:
    shop, front = service
    headers = {"authorization": f"Bearer {shop.key('read').token}", "accept-encoding": encoding}

    async def first_and_again() -> tuple[list[Sent], bool]:
        first = await ask(front, address, headers)
        assert front._lane
        taken = front._lane.answer(scope(address, headers), 0.0) is not None
        again = await ask(front, address, headers)
        known = headers | {"if-none-match": first[1].get(b"etag", b"*").decode()}
        return [first, again, await ask(front, address, known)], taken

    (first, again, not_modified), taken = asyncio.run(first_and_again())
    assert taken == (first[0] == 200)
    assert same(again) == same(first)
    assert first[1].keys() == again[1].keys()
    if first[0] == 200:
        assert (not_modified[0], not_modified[2]) == (304, b"")
        assert not_modified[1][b"etag"] == first[1][b"etag"]


def test_a_key_without_the_scope_is_refused_each_time(service: tuple[Shop, Front]) -> None:
    shop, front = service
    headers = {"authorization": f"Bearer {shop.key('plan').token}"}

    async def twice() -> list[int]:
        return [(await ask(front, CAR, headers))[0] for _ in range(2)]

    assert asyncio.run(twice()) == [403, 403]


def test_each_request_is_counted_once(service: tuple[Shop, Front]) -> None:
    shop, front = service
    headers = {"authorization": f"Bearer {shop.key('read').token}"}

    async def several() -> list[int]:
        addresses = [CAR, CAR, "/v1/vehicles/none", CAR, f"{CAR}?x=1", CAR]
        answers = [await ask(front, address, headers) for address in addresses]
        return [int(answer[1][b"ratelimit"].split(b"r=")[1].split(b";")[0]) for answer in answers]

    left = asyncio.run(several())
    assert [left[0] - n for n in left] == [0, 1, 2, 3, 4, 5]


def test_no_two_requests_have_one_id() -> None:
    here, elsewhere = RequestIds(), RequestIds()
    ids = [source.of({}) for source in (here, elsewhere) for _ in range(1000)]
    assert len(set(ids)) == len(ids)
    assert here.of({b"x-request-id": b"mine-1"}) == b"mine-1"
    for odd in (b"", b"a b", b"x" * 101, "é".encode()):
        assert here.of({b"x-request-id": odd}) != odd


def test_what_is_handed_on_together_is_what_was_counted_one_by_one() -> None:
    durations_s = [0.00005, 0.0001, 0.0002, 0.02, 0.02, 5, 50]

    async def count() -> None:
        for duration_s in durations_s:
            metrics.note("/together", 200, duration_s)
            metrics.count("/one-by-one", "GET", 200, duration_s)
        await asyncio.sleep(1.2)

    asyncio.run(count())
    lines = metrics.exposition().decode().splitlines()

    def of(route: str) -> dict[str, float]:
        found = [line.replace(route, "").rpartition(" ") for line in lines if f'"{route}"' in line]
        return {name: float(figure) for name, _, figure in found if "_created" not in name}

    assert of("/together") == pytest.approx(of("/one-by-one"))
    assert len(of("/together")) > 10


def test_look_ups_appear_in_the_metrics_within_moments(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service
    route = r'snapline_requests_total\{method="GET",route="/v1/fixtures/\{fixture_id\}",status="200"\} (\d+)'

    def counted(http: httpx.Client) -> int:
        found = re.search(route, http.get("/metrics").text)
        return int(found[1]) if found else 0

    headers = {"authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.url, headers=headers) as http:
        before = counted(http)
        for _ in range(7):
            http.get("/v1/fixtures/mat-long").raise_for_status()
        wanted = before + 7
        assert any(counted(http) == wanted for _ in range(3000))
