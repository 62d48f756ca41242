"""The outermost layer: request ids, keys, limits, prepared look-ups; everything else goes on to Litestar."""

import asyncio
import logging
import time
from collections.abc import AsyncIterator, Mapping
from typing import Any

import msgspec
from litestar.types import ASGIApp, Message, Receive, Send

from snapline.wire.problems import Problem
from snapline_service import logs, metrics, problems, tracing
from snapline_service.access.callers import Caller, Callers
from snapline_service.errors import BodyTooLarge, BodyTooSlow, NotFound, SnaplineError, TookTooLong
from snapline_service.lane import Lane
from snapline_service.limiting import Limiter
from snapline_service.reads import Headers, Read, Reads, reply
from snapline_service.request_ids import RequestIds
from snapline_service.settings import Settings

MAX_BODY_BYTES = 1_000_000


class Front:
    """An ASGI application around the framework's own."""

    def __init__(
        self,
        inner: ASGIApp,
        callers: Callers,
        reads: Reads,
        settings: Settings,
        *,
        streamed: frozenset[str] = frozenset(),
        larger: Mapping[str, int] | None = None,
    ) -> None:
        """``streamed`` are paths whose bodies are of any length: each part of them must come in time.

        ``larger`` are paths that take files, and how many bytes of them.
        """
        self._inner = inner
        self._callers = callers
        self._reads = reads
        self._streamed = streamed
        self._larger = larger or {}
        self._request_ids = RequestIds()
        self._limiter = Limiter(settings.requests_per_minute)
        # Look-ups are logged only in detail, which the lane does not know.
        in_detail = logs.access.isEnabledFor(logging.DEBUG)
        self._lane = None if in_detail else Lane(reads, callers, self._limiter, self._request_ids)
        self._answer_within_s = settings.answer_within_s
        self._body_within_s = settings.body_within_s

    async def __call__(self, scope: Any, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._inner(scope, receive, send)
            return
        started_s = time.perf_counter()
        answer = self._lane.answer(scope, started_s) if self._lane else None
        if answer is None:
            await self._in_full(_Exchange(scope, send, self._request_ids, started_s), receive)
            return
        route, status, headers, body = answer
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": body, "more_body": False})
        metrics.note(route, status, time.perf_counter() - started_s)

    async def _in_full(self, exchange: "_Exchange", receive: Receive) -> None:
        """Handle a request that the lane has left."""
        found = self._reads.find(exchange.path)
        try:
            if found and exchange.method in ("GET", "HEAD"):
                await self._look_up(exchange, *found)
            else:
                await self._pass_on(exchange, receive, "GET, HEAD" if found else "")
        except SnaplineError as error:
            await exchange.send_problem(problems.problem_of(error, exchange.request_id, exchange.path))
        except Exception:  # the last line of defence; the framework answers its own
            await exchange.send_problem(problems.unexpected(exchange.request_id, exchange.path))
        finally:
            exchange.finish()

    async def _look_up(self, exchange: "_Exchange", read: Read, names: list[str]) -> None:
        """Answer from the revision file."""
        exchange.route = read.path
        caller = await self._admit(exchange)
        caller.require("read")
        query = exchange.scope["query_string"]
        await exchange.send_whole(*reply(read, names, query, exchange.headers, caller.catalogue))

    async def _admit(self, exchange: "_Exchange") -> Caller:
        """Return who calls, and count it. Raises NotSignedIn, RateLimited."""
        authorization = exchange.headers.get(b"authorization", b"")
        known = self._callers.known(authorization, exchange.started_s)
        caller = exchange.caller = known or await self._callers.identify(authorization)
        exchange.added += self._limiter.take(caller.principal.key_id, exchange.started_s)
        return caller

    async def _pass_on(self, exchange: "_Exchange", receive: Receive, allow: str) -> None:
        """Have the framework answer."""
        scope: Any = exchange.scope
        state: dict[str, Any] = {"request_id": exchange.request_id, "allow": allow}
        if exchange.path.startswith("/v1/"):
            caller = state["caller"] = await self._admit(exchange)
            if "\x00" in exchange.path:  # PostgreSQL takes no such text
                raise NotFound("No name holds a null character.", mend="Leave it out.")
            if caller.published and not exchange.path.startswith("/v1/geometry/"):
                exchange.added.append((b"catalogue-revision", b"%d" % caller.published.revision))
        scope["state"] = state
        if exchange.method == "OPTIONS":  # refused like any other: the framework's own answer forgets methods
            scope["method"] = "TRACE"
        if exchange.path in self._streamed:
            parts = state["parts"] = _Parts(receive, self._body_within_s)
            await self._inner(scope, parts.receive, exchange.send)
            return
        body = state["body"] = await self._read(exchange, receive)
        try:
            async with asyncio.timeout(self._answer_within_s) as exchange.limit:
                await self._inner(scope, _once_more(body, receive), exchange.send)
        except TimeoutError:
            detail = f"The answer was not ready within {self._answer_within_s:g} s."
            raise TookTooLong(detail, mend="Ask for less at once.") from None

    async def _read(self, exchange: "_Exchange", receive: Receive) -> bytes:
        """Return the body, which may be neither too large nor too slow."""
        limit = self._larger.get(exchange.path, MAX_BODY_BYTES)
        too_large = BodyTooLarge("The body is too large.", mend=f"Send at most {limit:,} bytes.")
        told = exchange.headers.get(b"content-length", b"")
        if told.isdigit() and int(told[:12]) > limit:
            raise too_large
        body = bytearray()
        try:
            async with asyncio.timeout(self._body_within_s):
                while True:
                    message: Any = await receive()
                    body += message.get("body", b"")
                    if len(body) > limit:
                        raise too_large
                    if not message.get("more_body"):
                        break
        except TimeoutError:
            detail = f"The body did not arrive within {self._body_within_s:g} s."
            raise BodyTooSlow(detail, mend="Send it without pauses.") from None
        return bytes(body)


class _Parts:
    """A body that is read part by part while the answer is already being sent."""

    def __init__(self, receive: Receive, within_s: float) -> None:
        self._receive = receive
        self._within_s = within_s
        self._ended = asyncio.Event()

    async def __aiter__(self) -> AsyncIterator[bytes]:
        """Yield the parts. Raises BodyTooSlow where one keeps us waiting."""
        try:
            while True:
                async with asyncio.timeout(self._within_s):
                    message: Any = await self._receive()
                yield message.get("body", b"")
                if not message.get("more_body"):
                    break
        except TimeoutError:
            detail = f"No more of the body arrived within {self._within_s:g} s."
            raise BodyTooSlow(detail, mend="Send it without pauses.") from None
        finally:
            self._ended.set()

    async def receive(self) -> Any:
        """Tell the framework what comes after the body: that the caller has gone."""
        await self._ended.wait()
        return await self._receive()


def _once_more(body: bytes, receive: Receive) -> Receive:
    """Return a way to read a body that was read already, and after it whether the caller has gone."""
    waiting: list[Any] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive_again() -> Any:
        return waiting.pop() if waiting else await receive()

    return receive_again


class _Exchange:
    """One request and its answer: what is told of it, and what is added to it."""

    def __init__(self, scope: Any, send: Send, request_ids: RequestIds, started_s: float) -> None:
        self.started_s = started_s
        self._send = send
        self._status = 0
        self.scope = scope
        self.path: str = scope["path"]
        self.method: str = scope["method"]
        self.headers: dict[bytes, bytes] = dict(scope["headers"])
        request_id = request_ids.of(self.headers)
        self.request_id = request_id.decode()
        self.added: Headers = [(b"x-request-id", request_id)]
        self.route: str | None = None
        self.caller: Caller | None = None
        self.limit: asyncio.Timeout | None = None

    async def send(self, message: Message) -> None:
        """Pass on what the framework sends, with our headers."""
        if message["type"] == "http.response.start":
            if self.limit:  # an answer that has begun may be a long download
                self.limit.reschedule(None)
            self._status = message["status"]
            message["headers"] = [*message["headers"], *self.added]
        await self._send(message)

    async def send_whole(self, status: int, headers: Headers, body: bytes) -> None:
        """Send a whole answer."""
        self._status = status
        await self._send({"type": "http.response.start", "status": status, "headers": headers + self.added})
        sent = b"" if self.method == "HEAD" else body
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
        duration_s = time.perf_counter() - self.started_s
        route = self.route or self.scope.get("path_template") or "unmatched"
        metrics.count(route, self.method, self._status, duration_s)
        level = logging.DEBUG if self.route and self._status < 400 else logging.INFO
        if logs.access.isEnabledFor(level):
            logs.request(
                level,
                request_id=self.request_id,
                method=self.method,
                route=route,
                status=self._status,
                duration_s=duration_s,
                key_id=self.caller.principal.key_id if self.caller else None,
                trace=tracing.continued(self.headers.get(b"traceparent", b"")),
            )
