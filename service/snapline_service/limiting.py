"""How many requests a key may make, by the header fields of the HTTP working group's rate-limit draft.

Counted by ourselves: the memory storage of the ``limits`` package starts a thread every ten milliseconds,
which doubled the cost of a look-up.
"""

from snapline_service.errors import RateLimited
from snapline_service.reads import Headers

_WINDOW_S = 60


class _Window:
    """A minute of one key."""

    __slots__ = ("ends_s", "left")

    def __init__(self, ends_s: float, left: int) -> None:
        self.ends_s = ends_s
        self.left = left


class Limiter:
    """Counts requests by key in windows of a minute, in each worker by itself and on its event loop alone."""

    def __init__(self, per_minute: int) -> None:
        self._per_minute = per_minute
        self._windows: dict[str, _Window] = {}
        self._policy = (b"ratelimit-policy", f'"default";q={per_minute};w={_WINDOW_S}'.encode())

    def take(self, key_id: str, now_s: float) -> Headers:
        """Count a request and return the headers that tell what is left. Raises RateLimited."""
        window = self._windows.get(key_id)
        if window is None or now_s >= window.ends_s:
            window = self._windows[key_id] = _Window(now_s + _WINDOW_S, self._per_minute)
        wait_s = int(window.ends_s - now_s) or 1
        if not window.left:
            raise RateLimited(wait_s, self._per_minute)
        window.left -= 1
        return [self._policy, (b"ratelimit", b'"default";r=%d;t=%d' % (window.left, wait_s))]
