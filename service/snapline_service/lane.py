"""The short way for look-ups with which all is well.

It answers in one go and keeps nothing of the request. Whatever is out of the ordinary (a caller not seen
lately, a name that is not there, a limit reached) it leaves to the front, which starts again and says so.
"""

from typing import Any

from snapline_service.access.callers import Callers
from snapline_service.limiting import Limiter
from snapline_service.reads import Headers, Reads, reply
from snapline_service.request_ids import RequestIds

# The template of the address that is answered, status, headers and body.
Answer = tuple[str, int, Headers, bytes]


class Lane:
    """Answers prepared look-ups, on the event loop alone."""

    def __init__(self, reads: Reads, callers: Callers, limiter: Limiter, request_ids: RequestIds) -> None:
        self._reads = reads
        self._callers = callers
        self._limiter = limiter
        self._request_ids = request_ids

    def answer(self, scope: Any, now_s: float) -> Answer | None:
        """Return the answer to a request, or None if it is not for this lane."""
        found = self._reads.find(scope["path"])
        if found is None or scope["method"] != "GET":
            return None
        headers = dict(scope["headers"])
        caller = self._callers.known(headers.get(b"authorization", b""), now_s)
        if caller is None or caller.readable is None:
            return None
        read, names = found
        try:
            status, fields, body = reply(read, names, scope["query_string"], headers, caller.readable)
            fields += self._limiter.take(caller.principal.key_id, now_s)
        except Exception:  # the front meets it again, and tells
            return None
        fields.append((b"x-request-id", self._request_ids.of(headers)))
        return read.path, status, fields, body
