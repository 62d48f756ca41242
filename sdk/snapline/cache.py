"""Answers kept by their ETag, so that an unchanged document is neither sent nor decoded twice."""

import re
from collections import OrderedDict
from threading import Lock
from typing import Any

from msgspec import Struct

from snapline.calls import Response

_MAX_AGE = re.compile(r"(?:^|[\s,])max-age=(\d{1,9})(?=$|[\s,])")


class Kept(Struct, frozen=True):
    """A kept answer. Until ``fresh_until_s`` (monotonic) the service need not even be asked."""

    response: Response[Any]
    etag: str
    fresh_until_s: float


class Cache:
    """The most recently used answers, within ``max_bytes`` of bodies as received. Thread-safe.

    Decoded objects take a few times their body's size. Objects are shared between callers: they are frozen.
    """

    def __init__(self, max_bytes: int = 16_000_000) -> None:
        self.max_bytes = max_bytes
        self._kept: OrderedDict[object, Kept] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()

    def find(self, key: object) -> Kept | None:
        """Return what is kept under the key, and count it as used."""
        with self._lock:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
            return kept

    def keep(self, key: object, response: Response[Any], now_s: float) -> None:
        """Keep an answer with an ETag, if it may be kept; beyond the limit forget the least recently used."""
        control = response.headers.get("cache-control", "").lower()
        etag = response.headers.get("etag")
        with self._lock:
            self._drop(key)
            if etag is None or "no-store" in control or len(response.raw) > self.max_bytes:
                return
            self._kept[key] = Kept(response, etag, now_s + _max_age_s(control))
            self._bytes += len(response.raw)
            while self._bytes > self.max_bytes:
                self._drop(next(iter(self._kept)))

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0

    def _drop(self, key: object) -> None:
        kept = self._kept.pop(key, None)
        if kept is not None:
            self._bytes -= len(kept.response.raw)


def _max_age_s(control: str) -> float:
    stated = _MAX_AGE.search(control)
    return float(stated[1]) if stated and "no-cache" not in control else 0.0
