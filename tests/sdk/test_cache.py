"""An unchanged document is confirmed by its ETag, and neither sent nor decoded again."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest
import respx
from msgspec import Struct

from snapline import AsyncSnapline, Cache, Call, Headers, Response, Snapline
from snapline.resources.vehicles import get_vehicle

from .conftest import StoppedClock


class Text(Struct, frozen=True):
    text: str


def response(raw: bytes, **headers: str) -> Response[Any]:
    fields = {name.replace("_", "-"): value for name, value in headers.items()}
    return Response(data=object(), status=200, headers=Headers(fields), request_id="", raw=raw)


def revalidating(body: object, etag: str = '"3-a"') -> Callable[[httpx.Request], httpx.Response]:
    def answer(request: httpx.Request) -> httpx.Response:
        if request.headers.get("if-none-match") == etag:
            return httpx.Response(304, headers={"etag": etag, "catalogue-revision": "9"})
        return httpx.Response(200, json=body, headers={"etag": etag, "catalogue-revision": "8"})

    return answer


def test_an_unchanged_vehicle_is_the_same_object(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object]
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))
    first = client.vehicles.get("veldt-one-2024")
    second = client.vehicles.get("veldt-one-2024")
    assert second is first
    assert "if-none-match" not in route.calls[0].request.headers
    assert route.calls[1].request.headers["if-none-match"] == '"3-a"'


def test_a_confirmation_brings_newer_headers_with_the_old_body(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object]
) -> None:
    wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))
    call = get_vehicle("veldt-one-2024")
    first, second = client.send(call), client.send(call)
    assert (first.headers["Catalogue-Revision"], first.reused) == ("8", False)
    assert (second.headers["Catalogue-Revision"], second.reused) == ("9", True)
    assert second.headers["Content-Type"] == "application/json"
    assert second.raw == first.raw
    assert second.status == 200
    assert second.request_id != first.request_id


def test_a_changed_vehicle_replaces_the_kept_one(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object]
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024")
    route.mock(side_effect=revalidating(vehicle))
    client.vehicles.get("veldt-one-2024")
    route.mock(side_effect=revalidating(vehicle | {"changed_in_revision": 4}, '"4-b"'))
    assert client.vehicles.get("veldt-one-2024").changed_in_revision == 4
    client.vehicles.get("veldt-one-2024")
    assert route.calls.last.request.headers["if-none-match"] == '"4-b"'


def test_pages_are_kept_by_their_filters(
    wire: respx.MockRouter, client: Snapline, summary: Callable[[str], dict[str, object]]
) -> None:
    route = wire.get("/v1/vehicles").mock(side_effect=revalidating({"items": [summary("a")]}))
    client.vehicles.list(make="Veldt")
    client.vehicles.list(make="Orro")
    assert "if-none-match" not in route.calls.last.request.headers
    client.vehicles.list(make="Veldt")
    assert "if-none-match" in route.calls.last.request.headers


def test_the_cache_can_be_off(
    wire: respx.MockRouter, open_client: Callable[..., Snapline], vehicle: dict[str, object]
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))
    client = open_client(cache=False)
    client.vehicles.get("veldt-one-2024")
    client.vehicles.get("veldt-one-2024")
    assert "if-none-match" not in route.calls.last.request.headers


def test_two_clients_share_nothing_unless_given_one_cache(
    wire: respx.MockRouter, open_client: Callable[..., Snapline], vehicle: dict[str, object]
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))
    open_client().vehicles.get("veldt-one-2024")
    open_client().vehicles.get("veldt-one-2024")
    assert "if-none-match" not in route.calls.last.request.headers
    shared = Cache()
    open_client(cache=shared).vehicles.get("veldt-one-2024")
    open_client(cache=shared).vehicles.get("veldt-one-2024")
    assert "if-none-match" in route.calls.last.request.headers


def test_what_one_key_may_see_is_not_shown_to_another(
    wire: respx.MockRouter, url: str, vehicle: dict[str, object]
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))
    shared = Cache()
    for key in ("one", "other"):
        with Snapline(url, key, cache=shared) as client:
            client.vehicles.get("veldt-one-2024")
    assert "if-none-match" not in route.calls.last.request.headers


def test_an_answer_read_as_another_type_is_another_answer(wire: respx.MockRouter, client: Snapline) -> None:
    wire.get("/v1/text").mock(side_effect=revalidating({"text": "hello"}))
    as_struct = client.send(Call(method="GET", route="/v1/text", answer=Text))
    as_dict = client.send(Call(method="GET", route="/v1/text", answer=dict))
    assert as_struct.data == Text("hello")
    assert as_dict.data == {"text": "hello"}


def test_computations_are_not_kept(wire: respx.MockRouter, client: Snapline) -> None:
    route = wire.post("/v1/geometry/reflector").respond(
        json={"rcs_m2": 1.0, "rcs_dbsm": 0.0, "wavelength_mm": 3.9}, headers={"etag": '"1"'}
    )
    for _ in range(2):
        client.geometry.reflector(shape="plate", frequency_ghz=77.0)
    assert "if-none-match" not in route.calls.last.request.headers


def test_while_the_service_calls_it_fresh_it_is_not_even_asked(
    wire: respx.MockRouter, client: Snapline, clock: StoppedClock, vehicle: dict[str, object]
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024").respond(
        json=vehicle, headers={"etag": '"3-a"', "cache-control": "private, max-age=60"}
    )
    client.vehicles.get("veldt-one-2024")
    clock.pass_s(59.0)
    assert client.send(get_vehicle("veldt-one-2024")).reused
    assert route.call_count == 1
    clock.pass_s(2.0)
    client.vehicles.get("veldt-one-2024")
    assert route.call_count == 2


@pytest.mark.parametrize("control", ["no-store", "private, no-cache, max-age=60", "s-maxage=60", ""])
def test_without_leave_the_service_is_asked_each_time(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object], control: str
) -> None:
    route = wire.get("/v1/vehicles/veldt-one-2024").respond(
        json=vehicle, headers={"etag": '"3-a"', "cache-control": control}
    )
    client.vehicles.get("veldt-one-2024")
    client.vehicles.get("veldt-one-2024")
    assert route.call_count == 2
    assert ("if-none-match" in route.calls.last.request.headers) is (control != "no-store")


def test_the_least_recently_used_goes_first() -> None:
    cache = Cache(max_bytes=30)
    for name in ("a", "b", "c"):
        cache.keep(name, response(b"0123456789", etag='"1"'), 0.0)
    cache.find("a")
    cache.keep("d", response(b"0123456789", etag='"1"'), 0.0)
    assert [name for name in "abcd" if cache.find(name)] == ["a", "c", "d"]


def test_replacing_an_answer_frees_its_room() -> None:
    cache = Cache(max_bytes=30)
    cache.keep("other", response(b"x" * 10, etag='"1"'), 0.0)
    for _ in range(10):
        cache.keep("same", response(b"x" * 20, etag='"1"'), 0.0)
    assert cache.find("other") is not None


def test_an_answer_larger_than_the_cache_displaces_nothing() -> None:
    cache = Cache(max_bytes=30)
    cache.keep("small", response(b"x", etag='"1"'), 0.0)
    cache.keep("large", response(b"x" * 31, etag='"1"'), 0.0)
    assert cache.find("small") is not None
    assert cache.find("large") is None


def test_a_cleared_cache_is_empty_and_has_all_its_room() -> None:
    cache = Cache(max_bytes=10)
    cache.keep("a", response(b"x" * 10, etag='"1"'), 0.0)
    cache.clear()
    assert cache.find("a") is None
    cache.keep("b", response(b"x" * 10, etag='"1"'), 0.0)
    assert cache.find("b") is not None


def test_threads_may_share_a_cache() -> None:
    cache = Cache(max_bytes=500)

    def work(seed: int) -> None:
        for step in range(500):
            name = (seed * 7 + step) % 97
            cache.keep(name, response(b"x" * (name + 1), etag='"1"'), 0.0)
            cache.find((name + 13) % 97)

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(work, range(8)))
    kept = [found for name in range(97) if (found := cache.find(name))]
    assert 0 < sum(len(item.response.raw) for item in kept) <= 500


def test_a_derived_client_uses_the_same_cache(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object]
) -> None:
    wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))
    first = client.vehicles.get("veldt-one-2024")
    assert client.with_options(timeout=5.0).vehicles.get("veldt-one-2024") is first


def test_the_asyncio_client_keeps_answers_too(
    wire: respx.MockRouter, url: str, vehicle: dict[str, object]
) -> None:
    wire.get("/v1/vehicles/veldt-one-2024").mock(side_effect=revalidating(vehicle))

    async def ask() -> bool:
        async with AsyncSnapline(url, "k") as client:
            first = await client.vehicles.get("veldt-one-2024")
            return await client.vehicles.get("veldt-one-2024") is first

    assert asyncio.run(ask())
