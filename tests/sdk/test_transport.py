"""httpx's errors in our words, on mocked and on real sockets; pools per process and per event loop."""

import asyncio
import os
import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
import respx

import snapline
from snapline import AsyncSnapline, Headers, Snapline, SnaplineError, Timeout
from snapline.httpx_transport import FAILURES, AsyncHttpxTransport, HttpxTransport, translate


def descendants(kind: type[Exception]) -> Iterator[type[Exception]]:
    for child in kind.__subclasses__():
        yield child
        yield from descendants(child)


@pytest.mark.parametrize("kind", [httpx.RequestError, *descendants(httpx.RequestError), httpx.InvalidURL])
def test_every_error_of_httpx_has_words_of_its_own(kind: type[Exception]) -> None:
    assert kind.__name__ in FAILURES
    error = translate(kind("the reason"), "https://host:8443/v1/vehicles?q=private")
    assert isinstance(error, SnaplineError)
    assert "https://host:8443" in str(error)
    assert "the reason" in str(error)
    assert "private" not in str(error)


def test_the_table_has_no_error_that_httpx_lacks() -> None:
    assert [name for name in FAILURES if not hasattr(httpx, name)] == []


@pytest.mark.parametrize(
    ("raised", "kind", "phase"),
    [
        (httpx.ConnectTimeout(""), snapline.TimedOut, "connect"),
        (httpx.ReadTimeout(""), snapline.TimedOut, "read"),
        (httpx.WriteTimeout(""), snapline.TimedOut, "write"),
        (httpx.PoolTimeout(""), snapline.TimedOut, "pool"),
        (httpx.ConnectError("refused"), snapline.ConnectionFailed, None),
        (httpx.ReadError("reset"), snapline.ConnectionFailed, None),
        (httpx.RemoteProtocolError("cut off"), snapline.ConnectionFailed, None),
        (httpx.ProxyError("403"), snapline.ConnectionFailed, None),
        (httpx.DecodingError("bad gzip"), snapline.ResponseUnreadable, None),
        (httpx.UnsupportedProtocol("gopher"), snapline.ConfigurationError, None),
    ],
)
def test_a_failure_is_raised_in_our_words_with_the_cause_behind_it(
    wire: respx.MockRouter, client: Snapline, raised: Exception, kind: type[SnaplineError], phase: str | None
) -> None:
    wire.get("/v1/vehicles").mock(side_effect=raised)
    with pytest.raises(kind) as caught:
        client.vehicles.list()
    assert getattr(caught.value, "phase", None) == phase
    assert caught.value.__cause__ is not None
    assert caught.value.request_id


@pytest.fixture
def silent_port() -> Iterator[int]:
    """A port that takes connections and never says a word."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server.getsockname()[1]


@pytest.fixture
def closed_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port: int = server.getsockname()[1]
    return port


def test_a_silent_service_times_out(silent_port: int) -> None:
    with Snapline(f"http://127.0.0.1:{silent_port}", "k", timeout=0.05, max_retries=0) as client:
        with pytest.raises(snapline.TimedOut) as caught:
            client.vehicles.list()
        assert caught.value.phase == "read"


def test_a_silent_service_times_out_for_asyncio(silent_port: int) -> None:
    async def ask() -> str:
        async with AsyncSnapline(
            f"http://127.0.0.1:{silent_port}", "k", timeout=Timeout(read_s=0.05), max_retries=0
        ) as client:
            with pytest.raises(snapline.TimedOut) as caught:
                await client.vehicles.list()
            return caught.value.phase

    assert asyncio.run(ask()) == "read"


def test_nobody_there_is_a_failed_connection(closed_port: int) -> None:
    with (
        Snapline(f"http://127.0.0.1:{closed_port}", "k", max_retries=0) as client,
        pytest.raises(snapline.ConnectionFailed, match=f"127.0.0.1:{closed_port}"),
    ):
        client.vehicles.list()


def mock_pool(seen: list[object]) -> httpx.Client:
    def answer(request: httpx.Request) -> httpx.Response:
        return httpx.Response(200, json={"items": []})

    seen.append("opened")
    return httpx.Client(transport=httpx.MockTransport(answer), headers={"x-workshop": "north"})


def test_a_pool_of_ones_own_keeps_its_headers_and_ours_go_first() -> None:
    sent: list[httpx.Headers] = []

    def answer(request: httpx.Request) -> httpx.Response:
        sent.append(request.headers)
        return httpx.Response(200, json={"items": []})

    transport = HttpxTransport(
        lambda: httpx.Client(transport=httpx.MockTransport(answer), headers={"X-Workshop": "north"})
    )
    Snapline("https://snapline.example", "k", transport=transport).vehicles.list()
    transport.close()
    assert sent[0]["x-workshop"] == "north"
    assert sent[0].get_list("user-agent") == [snapline.exchange.USER_AGENT]
    assert "gzip" in sent[0]["accept-encoding"]


def test_another_process_gets_its_own_pool(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[object] = []
    transport = HttpxTransport(lambda: mock_pool(opened))
    client = Snapline("https://snapline.example", "k", transport=transport)
    client.vehicles.list()
    assert len(opened) == 1
    here = os.getpid()
    monkeypatch.setattr(os, "getpid", lambda: here + 1)
    client.vehicles.list()
    client.vehicles.list()
    assert len(opened) == 2
    transport.close()


def test_another_event_loop_gets_its_own_pool() -> None:
    opened: list[httpx.AsyncClient] = []

    def open_pool() -> httpx.AsyncClient:
        mock = httpx.MockTransport(lambda _: httpx.Response(200, json={"items": []}))
        opened.append(httpx.AsyncClient(transport=mock))
        return opened[-1]

    client = AsyncSnapline("https://snapline.example", "k", transport=AsyncHttpxTransport(open_pool))

    async def ask_twice() -> None:
        await client.vehicles.list()
        await client.vehicles.list()

    asyncio.run(ask_twice())
    asyncio.run(ask_twice())
    assert len(opened) == 2


def test_threads_may_share_a_client(wire: respx.MockRouter, client: Snapline) -> None:
    route = wire.get("/v1/vehicles").respond(json={"items": []})
    with ThreadPoolExecutor(8) as pool:
        pages = list(pool.map(lambda _: client.vehicles.list().items, range(40)))
    assert pages == [()] * 40
    assert route.call_count == 40


def test_header_names_are_found_whatever_their_case() -> None:
    headers = Headers({"Catalogue-Revision": "7"})
    assert headers["catalogue-revision"] == headers["CATALOGUE-REVISION"] == "7"
    assert dict(headers) == {"catalogue-revision": "7"}
    assert "etag" not in headers
    assert repr(headers) == "Headers({'catalogue-revision': '7'})"


def test_plain_seconds_hold_for_each_part_of_a_timeout() -> None:
    assert Timeout.of(4) == Timeout(connect_s=4, read_s=4, write_s=4, pool_s=4)
    assert Timeout().at_most(20.0) == Timeout(connect_s=10.0, read_s=20.0, write_s=20.0, pool_s=10.0)
