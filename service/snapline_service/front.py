"""The outermost layer: request ids, keys, prepared look-ups; everything else goes on to Litestar."""

import re
import uuid
from typing import Any

import msgspec
from litestar.enums import ScopeType
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from snapline.wire.problems import Problem
from snapline_service import problems
from snapline_service.access.callers import Callers
from snapline_service.errors import SnaplineError
from snapline_service.reads import Headers, Reads, reply

_REQUEST_ID = re.compile(rb"[A-Za-z0-9_.\-]{1,100}")


class Front:
    """An ASGI application around the framework's own."""

    def __init__(self, inner: ASGIApp, callers: Callers, reads: Reads) -> None:
        self._inner = inner
        self._callers = callers
        self._reads = reads

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != ScopeType.HTTP:
            await self._inner(scope, receive, send)
            return
        headers = dict(scope["headers"])
        given = headers.get(b"x-request-id", b"")
        request_id = given.decode() if _REQUEST_ID.fullmatch(given) else uuid.uuid4().hex
        added: Headers = [(b"x-request-id", request_id.encode())]
        try:
            await self._handle(scope, headers, added, receive, send)
        except SnaplineError as error:
            await _send_problem(send, problems.problem_of(error, request_id, scope["path"]), added)
        except Exception:  # the last line of defence; the framework answers its own
            await _send_problem(send, problems.unexpected(request_id, scope["path"]), added)

    async def _handle(
        self, scope: Any, headers: dict[bytes, bytes], added: Headers, receive: Receive, send: Send
    ) -> None:
        path, method = scope["path"], scope["method"]
        state: dict[str, Any] = {"request_id": added[0][1].decode()}
        if path.startswith("/v1/"):
            caller = await self._callers.identify(headers.get(b"authorization", b""))
            found = self._reads.find(path)
            if found and method in ("GET", "HEAD"):
                caller.require("read")
                answer = reply(*found, scope["query_string"], headers, caller.catalogue)
                await _send(send, *answer, added, head=method == "HEAD")
                return
            state["caller"] = caller
            if caller.published and not path.startswith("/v1/geometry/"):
                added.append((b"catalogue-revision", str(caller.published.revision).encode()))
        scope["state"] = state

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *added]
            await send(message)

        await self._inner(scope, receive, send_with_headers)


async def _send(
    send: Send, status: int, headers: Headers, body: bytes, added: Headers, *, head: bool
) -> None:
    await send({"type": "http.response.start", "status": status, "headers": headers + added})
    await send({"type": "http.response.body", "body": b"" if head else body, "more_body": False})


async def _send_problem(send: Send, problem: Problem, added: Headers) -> None:
    body = msgspec.json.encode(problem)
    headers = [(b"content-type", problems.MEDIA_TYPE.encode()), (b"content-length", str(len(body)).encode())]
    if problem.status == 401:
        headers.append((b"www-authenticate", b"Bearer"))
    await _send(send, problem.status, headers, body, added, head=False)
