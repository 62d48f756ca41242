"""Lists walk through all their pages, asking for each only when it is needed."""

import asyncio
from collections.abc import Callable
from itertools import chain, islice

import httpx
import pytest
import respx
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Struct, json

import snapline
from snapline import AsyncSnapline, Headers, Reply, Request, Snapline
from snapline.calls import get
from snapline.paging import AsyncListing, Page

URL = "https://snapline.example"


@pytest.fixture
def three_pages(wire: respx.MockRouter, summary: Callable[[str], dict[str, object]]) -> respx.Route:
    pages = {
        None: {"items": [summary("a"), summary("b")], "next_page_token": "t/2+="},
        "t/2+=": {"items": [summary("c")], "next_page_token": "t3"},
        "t3": {"items": [summary("d")]},
    }

    def answer(request: httpx.Request) -> httpx.Response:
        return httpx.Response(200, json=pages[request.url.params.get("page_token")])

    return wire.get("/v1/vehicles").mock(side_effect=answer)


def test_a_list_is_walked_to_its_end(client: Snapline, three_pages: respx.Route) -> None:
    assert [vehicle.id for vehicle in client.vehicles.list(make="Veldt")] == ["a", "b", "c", "d"]
    assert three_pages.call_count == 3


def test_every_page_is_asked_for_with_the_same_filters(client: Snapline, three_pages: respx.Route) -> None:
    list(client.vehicles.list(make="Veldt & Söhne", model_year=2024, page_size=2))
    sent = [dict(call.request.url.params) for call in three_pages.calls]
    filters = {"make": "Veldt & Söhne", "model_year": "2024", "page_size": "2"}
    assert sent == [filters, filters | {"page_token": "t/2+="}, filters | {"page_token": "t3"}]


def test_the_first_page_alone_costs_one_request(client: Snapline, three_pages: respx.Route) -> None:
    page = client.vehicles.list()
    assert [vehicle.id for vehicle in page.items] == ["a", "b"]
    assert page.next_page_token == "t/2+="
    assert three_pages.call_count == 1


def test_entries_are_fetched_lazily(client: Snapline, three_pages: respx.Route) -> None:
    entries = iter(client.vehicles.list())
    assert next(entries).id == "a"
    assert next(entries).id == "b"
    assert three_pages.call_count == 1
    assert next(entries).id == "c"
    assert three_pages.call_count == 2


def test_a_list_can_be_walked_page_by_page(client: Snapline, three_pages: respx.Route) -> None:
    pages = client.vehicles.list().pages()
    assert [[vehicle.id for vehicle in page.items] for page in pages] == [["a", "b"], ["c"], ["d"]]


def test_a_walk_can_go_on_from_a_kept_token(client: Snapline, three_pages: respx.Route) -> None:
    assert [vehicle.id for vehicle in client.vehicles.list(page_token="t3")] == ["d"]


def test_a_page_knows_the_response_it_came_in(client: Snapline, three_pages: respx.Route) -> None:
    assert client.vehicles.list().response.status == 200


def test_a_list_that_never_ends_is_stopped(
    wire: respx.MockRouter, client: Snapline, summary: Callable[[str], dict[str, object]]
) -> None:
    wire.get("/v1/vehicles").respond(json={"items": [summary("a")], "next_page_token": "again"})
    with pytest.raises(snapline.ResponseUnreadable, match="circles"):
        list(islice(client.vehicles.list(), 9))


def test_a_failure_on_a_later_page_is_raised_there(
    wire: respx.MockRouter, client: Snapline, summary: Callable[[str], dict[str, object]]
) -> None:
    first = httpx.Response(200, json={"items": [summary("a")], "next_page_token": "t2"})
    wire.get("/v1/vehicles").mock(side_effect=[first, httpx.Response(400)])
    entries = iter(client.vehicles.list())
    assert next(entries).id == "a"
    with pytest.raises(snapline.BadRequest):
        next(entries)


def test_async_for_walks_a_list_to_its_end(three_pages: respx.Route) -> None:
    async def walk() -> list[str]:
        async with AsyncSnapline(URL, "k") as client:
            return [vehicle.id async for vehicle in client.vehicles.list(make="Veldt")]

    assert asyncio.run(walk()) == ["a", "b", "c", "d"]
    assert [call.request.url.params["make"] for call in three_pages.calls] == ["Veldt"] * 3


def test_awaiting_a_list_gives_its_first_page(three_pages: respx.Route) -> None:
    async def walk() -> tuple[list[str], int, list[str]]:
        async with AsyncSnapline(URL, "k") as client:
            page = await client.vehicles.list()
            first = [vehicle.id for vehicle in page.items]
            asked = three_pages.call_count
            return first, asked, [vehicle.id async for vehicle in page]

    assert asyncio.run(walk()) == (["a", "b"], 1, ["a", "b", "c", "d"])


def test_an_asyncio_list_can_be_walked_page_by_page(three_pages: respx.Route) -> None:
    async def walk() -> list[list[str]]:
        async with AsyncSnapline(URL, "k") as client:
            pages = client.vehicles.list().pages()
            return [[vehicle.id for vehicle in page.items] async for page in pages]

    assert asyncio.run(walk()) == [["a", "b"], ["c"], ["d"]]


class Numbers(Struct, frozen=True):
    items: tuple[int, ...]
    next_page_token: str | None = None


class Shelf:
    """A service that hands out numbers in pages, for both kinds of client."""

    def __init__(self, pages: list[list[int]]) -> None:
        self.pages = pages

    def send(self, request: Request) -> Reply:
        index = int(request.url.partition("page_token=")[2] or 0)
        token = str(index + 1) if index + 1 < len(self.pages) else None
        body = json.encode(Numbers(tuple(self.pages[index]), token))
        return Reply(200, Headers({}), body)

    def close(self) -> None:
        """Nothing is open."""


class AsyncShelf(Shelf):
    async def send(self, request: Request) -> Reply:  # type: ignore[override]
        return super().send(request)

    async def close(self) -> None:  # type: ignore[override]
        """Nothing is open."""


PAGES = st.lists(st.lists(st.integers(-9, 9), max_size=4), min_size=1, max_size=8)


@given(PAGES)
def test_nothing_is_lost_or_repeated_however_a_list_is_cut(pages: list[list[int]]) -> None:
    with Snapline(URL, "k", transport=Shelf(pages)) as client:
        walk = Page(client.send, get("/numbers", Numbers))
        assert list(walk) == list(chain(*pages))
        assert list(walk) == list(chain(*pages))


@given(PAGES)
def test_nor_by_the_asyncio_client(pages: list[list[int]]) -> None:
    async def walk() -> list[int]:
        async with AsyncSnapline(URL, "k", transport=AsyncShelf(pages)) as client:
            return [number async for number in AsyncListing(client.send, get("/numbers", Numbers))]

    assert asyncio.run(walk()) == list(chain(*pages))
