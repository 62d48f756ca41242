"""The outermost layer: request ids, keys, limits, prepared look-ups; everything else goes on to Litestar."""

import asyncio
import logging
import os
import re
import time
from typing import Any

import msgspec
from litestar.enums import ScopeType
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from snapline.wire.problems import Problem
from snapline_service import logs, metrics, problems, tracing
from snapline_service.access.callers import Caller, Callers
from snapline_service.errors import BodyTooLarge, BodyTooSlow, NotFound, SnaplineError, TookTooLong
from snapline_service.limiting import Limiter
from snapline_service.reads import Headers, Reads, reply
from snapline_service.settings import Settings

MAX_BODY_BYTES = 1_000_000
_REQUEST_ID = re.compile(rb"[A-Za-z0-9_.\-]{1,100}")


class Front:
    """An ASGI application around the framework's own."""

    def __init__(self, inner: ASGIApp, callers: Callers, reads: Reads, settings: Settings) -> None:
        self._inner = inner
        self._callers = callers
        self._reads = reads
        self._limiter = Limiter(settings.requests_per_minute)
        self._answer_within_s = settings.answer_within_s
        self._body_within_s = settings.body_within_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != ScopeType.HTTP:
            await self._inner(scope, receive, send)
            return
        exchange = _Exchange(scope, send)
        try:
            await self._handle(exchange, scope, receive)
        except SnaplineError as error:
            await exchange.send_problem(problems.problem_of(error, exchange.request_id, scope["path"]))
        except Exception:  # the last line of defence; the framework answers its own
            await exchange.send_problem(problems.unexpected(exchange.request_id, scope["path"]))
        finally:
            exchange.finish()

    async def _handle(self, exchange: "_Exchange", scope: Any, receive: Receive) -> None:
        path, method = scope["path"], scope["method"]
        found = self._reads.find(path)
        state: dict[str, Any] = {"request_id": exchange.request_id, "allow": "GET, HEAD" if found else ""}
        prepared = found if method in ("GET", "HEAD") else None
        if prepared:
            exchange.route = prepared[0].path
        if path.startswith("/v1/"):
            caller = await self._callers.identify(exchange.headers.get(b"authorization", b""))
            exchange.caller = state["caller"] = caller
            exchange.added += self._limiter.take(caller.principal.key_id)
            if prepared:
                caller.require("read")
                answer = reply(*prepared, scope["query_string"], exchange.headers, caller.catalogue)
                await exchange.send_whole(*answer)
                return
            if "\x00" in path:  # PostgreSQL takes no such text
                raise NotFound("No name holds a null character.", mend="Leave it out.")
            if caller.published and not path.startswith("/v1/geometry/"):
                exchange.added.append((b"catalogue-revision", str(caller.published.revision).encode()))
        scope["state"] = state
        if method == "OPTIONS":  # the framework's own answer forgets methods: it is refused like any other
            scope["method"] = "TRACE"
        body = await self._read(exchange, receive)
        state["body"] = body
        try:
            async with asyncio.timeout(self._answer_within_s):
                await self._inner(scope, _once_more(body, receive), exchange.send)
        except TimeoutError:
            detail = f"The answer was not ready within {self._answer_within_s:g} s."
            raise TookTooLong(detail, mend="Ask for less at once.") from None

    async def _read(self, exchange: "_Exchange", receive: Receive) -> bytes:
        """Return the body, which may be neither too large nor too slow."""
        too_large = BodyTooLarge("The body is too large.", mend=f"Send at most {MAX_BODY_BYTES:,} bytes.")
        told = exchange.headers.get(b"content-length", b"")
        if told.isdigit() and int(told[:12]) > MAX_BODY_BYTES:
            raise too_large
        body = bytearray()
        try:
            async with asyncio.timeout(self._body_within_s):
                while True:
                    message: Any = await receive()
                    body += message.get("body", b"")
                    if len(body) > MAX_BODY_BYTES:
                        raise too_large
                    if not message.get("more_body"):
                        break
        except TimeoutError:
            detail = f"The body did not arrive within {self._body_within_s:g} s."
            raise BodyTooSlow(detail, mend="Send it without pauses.") from None
        return bytes(body)


def _once_more(body: bytes, receive: Receive) -> Receive:
    """Return a way to read a body that was read already, and after it whether the caller has gone."""
    waiting: list[Any] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive_again() -> Any:
        return waiting.pop() if waiting else await receive()

    return receive_again


class _Exchange:
    """One request and its answer: what is told of it, and what is added to it."""

    def __init__(self, scope: Any, send: Send) -> None:
        self._send = send
        self._started_s = time.perf_counter()
        self._method: str = scope["method"]
        self._scope = scope
        self._status = 0
        self.headers: dict[bytes, bytes] = dict(scope["headers"])
        given = self.headers.get(b"x-request-id", b"")
        self.request_id = given.decode() if _REQUEST_ID.fullmatch(given) else os.urandom(16).hex()
        self.added: Headers = [(b"x-request-id", self.request_id.encode())]
        self.route: str | None = None
        self.caller: Caller | None = None

    async def send(self, message: Message) -> None:
        """Pass on what the framework sends, with our headers."""
        if message["type"] == "http.response.start":
            self._status = message["status"]
            message["headers"] = [*message["headers"], *self.added]
        await self._send(message)

    async def send_whole(self, status: int, headers: Headers, body: bytes) -> None:
        """Send a whole answer."""
        self._status = status
        await self._send({"type": "http.response.start", "status": status, "headers": headers + self.added})
        sent = b"" if self._method == "HEAD" else body
        await self._send({"type": "http.response.body", "body": sent, "more_body": False})

    async def send_problem(self, problem: Problem) -> None:
        """Send a problem, unless an answer is under way already."""
        if self._status:
            return
        body = msgspec.json.encode(problem)
        headers = [(b"content-type", problems.MEDIA_TYPE.encode()), (b"content-length", b"%d" % len(body))]
        if problem.status == 401:
            headers.append((b"www-authenticate", b"Bearer"))
        if problem.retry_after_s is not None:
            headers.append((b"retry-after", b"%d" % problem.retry_after_s))
        await self.send_whole(problem.status, headers, body)

    def finish(self) -> None:
        """Count the exchange and log it; look-ups, of which there are very many, only in detail."""
        duration_s = time.perf_counter() - self._started_s
        route = self.route or self._scope.get("path_template") or "unmatched"
        metrics.count(route, self._method, self._status, duration_s)
        level = logging.DEBUG if self.route and self._status < 400 else logging.INFO
        if logs.access.isEnabledFor(level):
            logs.request(
                level,
                request_id=self.request_id,
                method=self._method,
                route=route,
                status=self._status,
                duration_s=duration_s,
                key_id=self.caller.principal.key_id if self.caller else None,
                trace=tracing.continued(self.headers.get(b"traceparent", b"")),
            )
