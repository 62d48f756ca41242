"""Rounds, medians and the cost of a request."""

import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from benchmarks.load import CONNECTIONS, connected, fire
from benchmarks.servers import Server

Measure = Callable[[], float]


@dataclass(frozen=True)
class Case:
    """Requests to a server and the status that they are answered with."""

    server: Server
    requests: Sequence[bytes]
    status: int = 200

    def cost_us(self) -> float:
        """Send them all and return the CPU time that one costs the server."""
        with connected(self.server.address, CONNECTIONS) as connections:
            fire(connections, self.requests[: 2 * CONNECTIONS], self.status)
            before_s = self.server.cpu_s()
            fire(connections, self.requests, self.status)
            return (self.server.cpu_s() - before_s) / len(self.requests) * 1e6


def alternate(measures: Mapping[str, Measure], rounds: int) -> dict[str, float]:
    """Return the median of each measure, taken in turn, so that a slow moment of the machine meets all.

    A first round warms up and does not count.
    """
    seen: dict[str, list[float]] = {name: [] for name in measures}
    for _ in range(rounds + 1):
        for name, measure in measures.items():
            seen[name].append(measure())
    return {name: statistics.median(figures[1:]) for name, figures in seen.items()}


def own_us(call: Callable[[], object], times: int) -> Measure:
    """Return a measure of the CPU time that a call costs this process."""

    def measure() -> float:
        before_s = time.process_time()
        for _ in range(times):
            call()
        return (time.process_time() - before_s) / times * 1e6

    return measure
