"""A receiver of webhooks under the hand of a test."""

import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import NamedTuple

from snapline import webhooks
from snapline.wire.changes import Event


class Got(NamedTuple):
    """A delivery as it came in."""

    headers: dict[str, str]
    body: bytes

    def event(self, secret: str) -> Event:
        return webhooks.verify(self.body, self.headers, secret)

    @property
    def id(self) -> str:
        return self.headers["webhook-id"]


class Receiver:
    """Keeps what it is sent; ``answer`` is a status, or does the answering itself."""

    def __init__(self) -> None:
        self.got: list[Got] = []
        self.answer: int | Callable[[BaseHTTPRequestHandler], None] = 204
        self.url = ""

    def ids(self) -> list[str]:
        return [one.id for one in self.got]

    def wait_for(self, count: int, within_s: float = 20.0) -> list[Got]:
        """Return what came in as soon as it is that much."""
        end_s = time.monotonic() + within_s
        while len(self.got) < count:
            assert time.monotonic() < end_s, f"{len(self.got)} of {count} came"
            time.sleep(0.01)
        return self.got


@contextlib.contextmanager
def receiving() -> Iterator[Receiver]:
    """Run a receiver on a free port."""
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            size = int(self.headers["content-length"])
            body = self.rfile.read(size)
            if len(body) < size:  # the deliverer was killed while it sent: nothing has arrived
                return
            receiver.got.append(Got({k.lower(): v for k, v in self.headers.items()}, body))
            if callable(receiver.answer):
                receiver.answer(self)
                return
            self.send_response(receiver.answer)
            self.send_header("content-length", "0")
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - its name in the library
            pass

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, request: object, client_address: object) -> None:
            pass  # a deliverer that hangs up is what some tests are about

    with Server(("127.0.0.1", 0), Handler) as server:
        receiver.url = f"http://127.0.0.1:{server.server_address[1]}/hook"
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        yield receiver
        server.shutdown()
        thread.join()
