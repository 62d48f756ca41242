"""What a client needs of HTTP, in types of our own, so that the library beneath can be exchanged."""

import math
from collections.abc import Iterator, Mapping
from typing import Protocol

from msgspec import Struct

from snapline.errors import ConfigurationError


class Timeout(Struct, frozen=True, kw_only=True):
    """Seconds allowed to one attempt.

    ``connect_s`` to reach the service, ``read_s`` and ``write_s`` from one piece received or sent to the
    next, ``pool_s`` to wait for a free connection.
    """

    connect_s: float = 10.0
    read_s: float = 30.0
    write_s: float = 30.0
    pool_s: float = 10.0

    def __post_init__(self) -> None:
        for seconds in (self.connect_s, self.read_s, self.write_s, self.pool_s):
            if not _is_number(seconds) or not 0 < seconds < math.inf:
                raise ConfigurationError(f"A timeout must be a positive number of seconds, not {seconds!r}.")

    @classmethod
    def of(cls, timeout: "Timeout | float") -> "Timeout":
        """Return the timeout; plain seconds hold for each part."""
        if isinstance(timeout, Timeout):
            return timeout
        if not _is_number(timeout):
            raise ConfigurationError(
                f"timeout takes seconds or snapline.Timeout, not {type(timeout).__name__}."
            )
        return cls(connect_s=timeout, read_s=timeout, write_s=timeout, pool_s=timeout)

    def at_most(self, seconds: float) -> "Timeout":
        """Return the timeout with no part longer than what is left of a call's deadline."""
        parts = {name: min(getattr(self, name), seconds) for name in self.__struct_fields__}
        return Timeout(**parts)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


class Headers(Mapping[str, str]):
    """Header fields by name, whatever the case."""

    __slots__ = ("_fields",)

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._fields = {name.lower(): value for name, value in fields.items()}

    def __getitem__(self, name: str) -> str:
        return self._fields[name.lower()]

    def __iter__(self) -> Iterator[str]:
        return iter(self._fields)

    def __len__(self) -> int:
        return len(self._fields)

    def __repr__(self) -> str:
        return f"Headers({self._fields!r})"


class Request(Struct, frozen=True, kw_only=True):
    """One HTTP request, ready to go; header names are in lower case.

    Its repr leaves out the headers, which carry the key, and the body.
    """

    method: str
    url: str
    headers: dict[str, str]
    timeout: Timeout
    body: bytes | None = None

    def __repr__(self) -> str:
        return f"Request({self.method} {self.url})"


class Reply(Struct, frozen=True):
    """One HTTP response, read to its end."""

    status: int
    headers: Headers
    body: bytes

    def __repr__(self) -> str:
        return f"Reply({self.status}, {len(self.body)} bytes)"


class Transport(Protocol):
    """Sends requests. Raises ConnectionFailed or TimedOut when no answer comes; thread-safe."""

    def send(self, request: Request) -> Reply:
        """Send and wait for the whole answer."""

    def close(self) -> None:
        """Let go of all connections."""


class AsyncTransport(Protocol):
    """Sends requests without blocking. Raises as Transport does."""

    async def send(self, request: Request) -> Reply:
        """Send and await the whole answer."""

    async def close(self) -> None:
        """Let go of all connections."""
