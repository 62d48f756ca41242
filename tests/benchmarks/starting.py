"""P6 and P8: what it takes to import, to start and to install."""

import resource
import statistics
import subprocess
import sys
import tempfile
import time
import venv
from pathlib import Path

from benchmarks import report
from benchmarks.look_ups import served_by_peer
from benchmarks.measuring import Measure
from benchmarks.report import Report
from benchmarks.servers import Server, free_port, snapline, started

_CHECKOUT = Path(__file__).resolve().parents[2]


def python(code: str) -> Measure:
    """Return a measure of the CPU time, in ms, of a new interpreter that runs the code."""

    def measure() -> float:
        before_s = _children_s()
        subprocess.run([sys.executable, "-c", code], check=True)
        return (_children_s() - before_s) * 1e3

    return measure


def modules_of(package: str) -> int:
    """Return how many modules the import of a package loads, beyond those of the interpreter itself."""
    code = f"import sys; before = set(sys.modules); import {package}; print(len(set(sys.modules) - before))"
    told = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return int(told.stdout)


def start_service() -> Server:
    """Start the service on the demo catalogue, stop it, and return what it told."""
    with tempfile.TemporaryDirectory() as folder:
        port = free_port()
        variables = {"SNAPLINE_DATA": f"{folder}/revisions"}
        with started(snapline(port, "--demo"), port, variables, "/readyz") as server:
            return server


def start_bare() -> Server:
    """Start the bare limit, stop it, and return what it told."""
    with served_by_peer("bare", "rsgi", {"BENCHMARK_BODY_BYTES": "1"}) as server:
        return server


def measure(table: Report, rounds: int, *, install: bool) -> None:
    """Add how long the service takes to be ready and, if wanted, to install."""
    ready_s, bare_s = [], []
    for _ in range(rounds):
        ready_s.append(start_service().ready_after_s)
        bare_s.append(start_bare().ready_after_s)
    table.section("Starting")
    note = f"a bare server {statistics.median(bare_s):.2f} s"
    table.add("P8 ready on the demo catalogue", statistics.median(ready_s), "s", report.READY_S, note)
    if install:
        table.add("P8 fresh installation with pip", _install_s(), "s", report.INSTALL_S)


def _install_s() -> float:
    with tempfile.TemporaryDirectory() as folder:
        began_s = time.perf_counter()
        venv.create(folder, with_pip=True)
        command = [f"{folder}/bin/pip", "install", "-q", "-c", "service/constraints.txt", "./sdk", "."]
        subprocess.run(command, cwd=_CHECKOUT, check=True, timeout=600)
        return time.perf_counter() - began_s


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
