"""How many requests a key may make, by the header fields of the HTTP working group's rate-limit draft.

Counted by ourselves: the memory storage of the ``limits`` package starts a thread every ten milliseconds,
which doubled the cost of a look-up.
"""

import time

from snapline_service.errors import RateLimited
from snapline_service.reads import Headers

_WINDOW_S = 60


class Limiter:
    """Counts requests by key in windows of a minute, in each worker by itself and on its event loop alone."""

    def __init__(self, per_minute: int) -> None:
        self._per_minute = per_minute
        self._windows: dict[str, tuple[float, int]] = {}
        self._policy = (b"ratelimit-policy", f'"default";q={per_minute};w={_WINDOW_S}'.encode())

    def take(self, key_id: str) -> Headers:
        """Count a request and return the headers that tell what is left. Raises RateLimited."""
        now_s = time.monotonic()
        ends_s, used = self._windows.get(key_id, (0.0, 0))
        if now_s >= ends_s:
            ends_s, used = now_s + _WINDOW_S, 0
        self._windows[key_id] = (ends_s, used + 1)
        wait_s = max(1, round(ends_s - now_s))
        if used >= self._per_minute:
            raise RateLimited(wait_s, self._per_minute)
        left = self._per_minute - used - 1
        return [self._policy, (b"ratelimit", b'"default";r=%d;t=%d' % (left, wait_s))]
