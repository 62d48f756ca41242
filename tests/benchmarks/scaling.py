"""How much more two workers answer than one.

The load needs CPU too: if an answer costs the service S and its question the load L, a machine of n cores
gives at most n/(S + L) answers a second, however many workers there are. The table names this bound beside
what was measured. S itself grows when workers and load take turns on the same cores; only with more cores, or
with the load on another machine, does the ratio come near 2.
"""

import multiprocessing
import os
import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from random import Random
from typing import NamedTuple

from benchmarks.catalogues import Catalogue, vehicle_id
from benchmarks.load import CONNECTIONS, Address, connected, fire
from benchmarks.look_ups import look_ups
from benchmarks.report import Report

_LOADERS = 2
_RUNS = 3


class _Run(NamedTuple):
    began_s: float
    ended_s: float
    cpu_s: float


class _Rate(NamedTuple):
    per_s: float
    service_us: float
    load_us: float


def measure(table: Report, catalogue: Catalogue, count: int) -> None:
    """Add the rates of one and of two workers, and their ratio: medians of a few runs in turn."""
    catalogue.file().close()  # it is in memory from here on
    names = [vehicle_id(Random(n).randrange(catalogue.vehicles)) for n in range(count)]
    requests = look_ups(catalogue, names)
    runs = [(_rate(catalogue, requests, 1), _rate(catalogue, requests, 2)) for _ in range(_RUNS)]
    cores = os.cpu_count() or 1
    table.section(f"Two workers against one, on {cores} cores that the load shares")
    for what, rates in zip(("one worker", "two workers"), zip(*runs, strict=True), strict=True):
        rate = sorted(rates)[_RUNS // 2]
        bound_per_s = cores * 1e6 / (rate.service_us + rate.load_us)
        note = f"service {rate.service_us:.0f} µs, load {rate.load_us:.0f} µs: at most {bound_per_s:,.0f}"
        table.add(what, rate.per_s, "look-ups a second", note=note)
    table.add("ratio", statistics.median(two.per_s / one.per_s for one, two in runs))


def _rate(catalogue: Catalogue, requests: list[bytes], workers: int) -> _Rate:
    spawn = multiprocessing.get_context("spawn")
    with catalogue.served("--workers", str(workers)) as server, ProcessPoolExecutor(_LOADERS, spawn) as pool:
        list(pool.map(_load, [server.address] * _LOADERS, [requests[:1000]] * _LOADERS, [0.0] * _LOADERS))
        server.settle()  # each worker checks the file when it is first asked
        before_s = server.cpu_s()
        at_s = time.perf_counter() + 0.5
        runs = list(pool.map(_load, [server.address] * _LOADERS, [requests] * _LOADERS, [at_s] * _LOADERS))
        service_s = server.cpu_s() - before_s
    answered = _LOADERS * len(requests)
    passed_s = max(run.ended_s for run in runs) - min(run.began_s for run in runs)
    load_s = sum(run.cpu_s for run in runs)
    return _Rate(answered / passed_s, service_s / answered * 1e6, load_s / answered * 1e6)


def _load(address: Address, requests: list[bytes], at_s: float) -> _Run:
    """Send all requests from a moment of the common clock on."""
    with connected(address, CONNECTIONS) as connections:
        time.sleep(max(0.0, at_s - time.perf_counter()))
        began_s, before_s = time.perf_counter(), time.process_time()
        fire(connections, requests)
        return _Run(began_s, time.perf_counter(), time.process_time() - before_s)
