"""Prometheus metrics.

Workers are processes that share a port: ``snapline serve`` gives them a common folder
(PROMETHEUS_MULTIPROC_DIR), through which whichever worker is asked answers for all of them.

The package's own counting costs as much as reading a document does. Look-ups are therefore noted in plain
numbers and handed to it once a second, everything else at once.
"""

import asyncio
import os
from bisect import bisect_left

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

_METHODS = {"DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT", "TRACE"}
_BOUNDS_S = (0.0001, 0.0003, 0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10)
_HAND_ON_AFTER_S = 1.0


class _Durations(Histogram):
    """A histogram that takes many observations at once."""

    def observe_all(self, counts: list[int], total_s: float) -> None:
        """Add so many observations in each bucket."""
        self._sum.inc(total_s)
        for bucket, count in zip(self._buckets, counts, strict=True):
            if count:
                bucket.inc(count)


_REGISTRY = CollectorRegistry()
_REQUESTS = Counter("snapline_requests_total", "Requests.", ["route", "method", "status"], registry=_REGISTRY)
_SECONDS = _Durations(
    "snapline_request_duration_seconds",
    "Time from the request's headers to the whole answer.",
    ["route"],
    buckets=_BOUNDS_S,
    registry=_REGISTRY,
)


class _Noted:
    """Look-ups of one route and status that were not handed on yet: how many in each bucket."""

    __slots__ = ("counts", "total_s")

    def __init__(self) -> None:
        self.counts = [0] * (len(_BOUNDS_S) + 1)
        self.total_s = 0.0


_noted: dict[tuple[str, int], _Noted] = {}


def note(route: str, status: int, duration_s: float) -> None:
    """Count one look-up by GET, within a second; on the event loop alone."""
    noted = _noted.get((route, status))
    if noted is None:
        asyncio.get_running_loop().call_later(_HAND_ON_AFTER_S, _hand_on)
        noted = _noted[route, status] = _Noted()
    noted.counts[bisect_left(_BOUNDS_S, duration_s)] += 1
    noted.total_s += duration_s


def count(route: str, method: str, status: int, duration_s: float) -> None:
    """Count one request under its route's template. Methods that nobody defined are counted together."""
    known = method if method in _METHODS else "OTHER"
    _REQUESTS.labels(route, known, str(status)).inc()
    _SECONDS.labels(route).observe(duration_s)


def _hand_on() -> None:
    for (route, status), noted in _noted.items():
        _REQUESTS.labels(route, "GET", str(status)).inc(sum(noted.counts))
        _SECONDS.labels(route).observe_all(noted.counts, noted.total_s)
    _noted.clear()


def exposition() -> bytes:
    """Return the metrics in Prometheus' text format."""
    registry = _REGISTRY
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call] # the package's own types end here
    return generate_latest(registry)
