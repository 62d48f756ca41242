"""Prometheus metrics.

Workers are processes that share a port: ``snapline serve`` gives them a common folder
(PROMETHEUS_MULTIPROC_DIR), through which whichever worker is asked answers for all of them.
"""

import os
from functools import cache

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

_METHODS = {"DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT", "TRACE"}
_REGISTRY = CollectorRegistry()
_REQUESTS = Counter("snapline_requests_total", "Requests.", ["route", "method", "status"], registry=_REGISTRY)
_SECONDS = Histogram(
    "snapline_request_duration_seconds",
    "Time from the request's headers to the whole answer.",
    ["route"],
    buckets=(0.0001, 0.0003, 0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10),
    registry=_REGISTRY,
)


def count(route: str, method: str, status: int, duration_s: float) -> None:
    """Count one request under its route's template. Methods that nobody defined are counted together."""
    requests, seconds = _series(route, method if method in _METHODS else "OTHER", status)
    requests.inc()
    seconds.observe(duration_s)


@cache
def _series(route: str, method: str, status: int) -> tuple[Counter, Histogram]:
    """Return the series of a route; finding them by their labels costs more than counting."""
    return _REQUESTS.labels(route, method, str(status)), _SECONDS.labels(route)


def exposition() -> bytes:
    """Return the metrics in Prometheus' text format."""
    registry = _REGISTRY
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call] # the package's own types end here
    return generate_latest(registry)
