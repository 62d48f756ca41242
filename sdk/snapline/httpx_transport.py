"""The transports over httpx. Imported when the first client is built, and nowhere else."""

import os
from collections.abc import Callable
from functools import partial
from typing import Any
from urllib.parse import urlsplit
from weakref import WeakKeyDictionary

import httpx

from snapline.errors import (
    ConfigurationError,
    ConnectionFailed,
    ResponseUnreadable,
    SnaplineError,
    TimedOut,
)
from snapline.transport import Headers, Reply, Request

# Every error of the library by name: what to say of it, and how to say it. The most specific name wins.
FAILURES: dict[str, tuple[str, Callable[[str], SnaplineError]]] = {
    "ConnectTimeout": ("No connection in time to", lambda text: TimedOut(text, "connect")),
    "ReadTimeout": ("No answer in time from", lambda text: TimedOut(text, "read")),
    "WriteTimeout": ("Could not send in time to", lambda text: TimedOut(text, "write")),
    "PoolTimeout": ("No free connection in time to", lambda text: TimedOut(text, "pool")),
    "TimeoutException": ("Time ran out with", TimedOut),
    "ConnectError": ("Could not connect to", ConnectionFailed),
    "ReadError": ("The connection broke while reading from", ConnectionFailed),
    "WriteError": ("The connection broke while sending to", ConnectionFailed),
    "CloseError": ("The connection could not be closed to", ConnectionFailed),
    "NetworkError": ("The network failed towards", ConnectionFailed),
    "LocalProtocolError": ("The request broke the protocol towards", ConnectionFailed),
    "RemoteProtocolError": ("The answer broke the protocol from", ConnectionFailed),
    "ProtocolError": ("The protocol was broken with", ConnectionFailed),
    "ProxyError": ("The proxy failed towards", ConnectionFailed),
    "UnsupportedProtocol": ("Neither http nor https:", ConfigurationError),
    "TransportError": ("The transport failed towards", ConnectionFailed),
    "DecodingError": ("The answer's compression is broken from", ResponseUnreadable),
    "TooManyRedirects": ("Sent round in circles by", ResponseUnreadable),
    "RequestError": ("The request failed towards", ConnectionFailed),
    "InvalidURL": ("Not a usable address:", ConfigurationError),
}
CAUGHT = (httpx.RequestError, httpx.InvalidURL)


def translate(error: Exception, url: str) -> SnaplineError:
    """Return our error for one of the library's."""
    names = (kind.__name__ for kind in type(error).__mro__)
    said, make = FAILURES[next(name for name in names if name in FAILURES)]
    parts = urlsplit(url)
    reason = f": {error}" if str(error) else ""
    return make(f"{said} {parts.scheme}://{parts.netloc}{reason}")


class _Pool:
    """A connection pool with the header fields that it sends by default."""

    def __init__(self, client: Any) -> None:
        self.client = client
        self._defaults = dict(client.headers)

    def request(self, request: Request) -> Any:
        """Build the library's request. Its own short cuts merge headers and cookies much more slowly."""
        timeout = request.timeout
        return httpx.Request(
            request.method,
            request.url,
            headers={**self._defaults, **request.headers},
            content=request.body,
            extensions={
                "timeout": {
                    "connect": timeout.connect_s,
                    "read": timeout.read_s,
                    "write": timeout.write_s,
                    "pool": timeout.pool_s,
                }
            },
        )


def _reply(response: Any) -> Reply:
    return Reply(response.status_code, Headers(response.headers), response.content)


class HttpxTransport:
    """Blocking transport. ``open_pool`` makes the library's client, by default with its own settings."""

    def __init__(self, open_pool: Callable[[], Any] = httpx.Client) -> None:
        self._open_pool = open_pool
        self._pool: _Pool | None = _Pool(open_pool())
        self._process = os.getpid()

    def send(self, request: Request) -> Reply:
        """Send and wait for the whole answer."""
        pool = self._own_pool()
        try:
            return _reply(pool.client.send(pool.request(request)))
        except CAUGHT as error:
            raise translate(error, request.url) from error

    def close(self) -> None:
        """Let go of all connections."""
        if self._pool is not None and self._process == os.getpid():
            self._pool.client.close()
        self._pool = None

    def _own_pool(self) -> _Pool:
        if self._pool is None:
            raise ConfigurationError("This client is closed.")
        if self._process != os.getpid():  # after a fork, sockets must not be shared with the parent
            self._pool, self._process = _Pool(self._open_pool()), os.getpid()
        return self._pool


class AsyncHttpxTransport:
    """Transport for asyncio. Connections belong to one event loop, so each loop gets its own pool."""

    def __init__(self, open_pool: Callable[[], Any] | None = None) -> None:
        import asyncio  # noqa: PLC0415  not needed by the blocking transport

        self._running_loop = asyncio.get_running_loop
        # Reading the certificates takes long: done here, it does not hold up a loop.
        self._open_pool = open_pool or partial(httpx.AsyncClient, verify=httpx.create_ssl_context())
        self._pools: WeakKeyDictionary[Any, _Pool] = WeakKeyDictionary()
        self._closed = False

    async def send(self, request: Request) -> Reply:
        """Send and await the whole answer."""
        pool = self._own_pool()
        try:
            return _reply(await pool.client.send(pool.request(request)))
        except CAUGHT as error:
            raise translate(error, request.url) from error

    async def close(self) -> None:
        """Let go of the running loop's connections; those of loops that ended went with them."""
        self._closed = True
        pool = self._pools.pop(self._running_loop(), None)
        if pool is not None:
            await pool.client.aclose()

    def _own_pool(self) -> _Pool:
        if self._closed:
            raise ConfigurationError("This client is closed.")
        loop = self._running_loop()
        pool = self._pools.get(loop)
        if pool is None:
            pool = self._pools[loop] = _Pool(self._open_pool())
        return pool
