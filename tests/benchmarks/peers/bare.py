"""The bare limit: the server's own interface (RSGI) and a fixed answer; nothing is looked at."""

import os
from typing import Any

_BODY = b"x" * int(os.environ["BENCHMARK_BODY_BYTES"])
_HEADERS = [("content-type", "application/json")]


async def app(_scope: Any, protocol: Any) -> None:
    """Answer."""
    protocol.response_bytes(200, _HEADERS, _BODY)
