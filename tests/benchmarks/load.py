"""The load: HTTP/1.1 on plain sockets that stay open, cheap enough to keep a server of one worker busy."""

import re
import socket
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

Address = tuple[str, int]

# Enough that a server is never idle for long: with few, waking up costs more than answering.
CONNECTIONS = 32

_LENGTH = re.compile(rb"\r\ncontent-length: *(\d+)", re.IGNORECASE)
_PATIENCE_S = 20.0


def request(path: str, headers: Mapping[str, str]) -> bytes:
    """Return a GET request as it travels."""
    fields = [f"{name}: {text}" for name, text in headers.items()]
    return "\r\n".join([f"GET {path} HTTP/1.1", "host: localhost", *fields, "", ""]).encode()


class Connection:
    """One connection, on which requests follow one another."""

    def __init__(self, address: Address) -> None:
        self._socket = socket.create_connection(address, _PATIENCE_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def send(self, text: bytes) -> None:
        """Send one request."""
        self._socket.sendall(text)

    def receive(self) -> tuple[int, bytes]:
        """Return status and body of the next answer."""
        data = self._more(b"")
        while (end := data.find(b"\r\n\r\n")) < 0:
            data = self._more(data)
        status = int(data[9:12])
        stated = None if status == 304 else _LENGTH.search(data, 0, end)
        whole = end + 4 + (int(stated[1]) if stated else 0)
        while len(data) < whole:
            data = self._more(data)
        return status, data[end + 4 :]

    def close(self) -> None:
        """Hang up."""
        self._socket.close()

    def _more(self, data: bytes) -> bytes:
        piece = self._socket.recv(1 << 18)
        if not piece:
            message = "The server hung up."
            raise ConnectionError(message)
        return data + piece


@contextmanager
def connected(address: Address, count: int) -> Iterator[list[Connection]]:
    """Yield so many connections to a server."""
    connections = [Connection(address) for _ in range(count)]
    try:
        yield connections
    finally:
        for connection in connections:
            connection.close()


def fire(connections: Sequence[Connection], requests: Sequence[bytes], status: int = 200) -> None:
    """Send all requests, as many at a time as there are connections. Raises ValueError at another status."""
    for first in range(0, len(requests), len(connections)):
        wave = requests[first : first + len(connections)]
        for connection, text in zip(connections, wave, strict=False):
            connection.send(text)
        for connection in connections[: len(wave)]:
            got, body = connection.receive()
            if got != status:
                message = f"{got} instead of {status}: {body[:300]!r}"
                raise ValueError(message)
