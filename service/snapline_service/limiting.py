"""How many requests a key may make, by the header fields of the HTTP working group's rate-limit draft."""

import time

from limits.storage import MemoryStorage

from snapline_service.errors import RateLimited
from snapline_service.reads import Headers

_WINDOW_S = 60


class Limiter:
    """Counts requests by key in windows of a minute, in each worker by itself."""

    def __init__(self, per_minute: int) -> None:
        self._per_minute = per_minute
        self._counts = MemoryStorage()
        self._policy = (b"ratelimit-policy", f'"default";q={per_minute};w={_WINDOW_S}'.encode())

    def take(self, key_id: str) -> Headers:
        """Count a request and return the headers that tell what is left. Raises RateLimited."""
        used = self._counts.incr(key_id, _WINDOW_S)
        wait_s = max(0, round(self._counts.get_expiry(key_id) - time.time()))
        if used > self._per_minute:
            raise RateLimited(wait_s or 1, self._per_minute)
        return [self._policy, (b"ratelimit", b'"default";r=%d;t=%d' % (self._per_minute - used, wait_s))]
