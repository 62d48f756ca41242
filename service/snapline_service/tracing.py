"""W3C trace context: continue the caller's trace, so that both sides' logs can be joined."""

import re
import secrets

from msgspec import Struct

_TRACEPARENT = re.compile(rb"00-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})")


class Trace(Struct, frozen=True):
    """The trace that a request belongs to, the caller's span and our own."""

    trace_id: str
    parent_id: str
    span_id: str


def continued(traceparent: bytes) -> Trace | None:
    """Return the trace that a traceparent header names, or None if it names none."""
    found = _TRACEPARENT.fullmatch(traceparent)
    if found is None or not int(found[1], 16) or not int(found[2], 16):
        return None
    return Trace(found[1].decode(), found[2].decode(), secrets.token_hex(8))
