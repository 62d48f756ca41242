"""Servers as processes of their own, and the CPU time that the kernel accounts to them (Linux)."""

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from benchmarks.load import Address, Connection, request

_PATIENCE_S = 60.0
# A server that uses less CPU than this in a pause does nothing but wait.
_PAUSE_S, _IDLE_S = 0.3, 0.01


@dataclass(frozen=True)
class Server:
    """A server that answers, with all of its processes."""

    address: Address
    processes: tuple[int, ...]
    ready_after_s: float

    def cpu_s(self) -> float:
        """Return the CPU time that it has used so far, by clock_getcpuclockid(3): /proc counts in 10 ms."""
        return sum(time.clock_gettime(~process << 3 | 2) for process in self.processes)

    def settle(self) -> None:
        """Wait until it is idle: what it does once, after its first request, is no other request's cost."""
        used_s = -1.0
        while (now_s := self.cpu_s()) - used_s > _IDLE_S:
            used_s = now_s
            time.sleep(_PAUSE_S)


def granian(target: str, interface: str, port: int) -> list[str]:
    """Return the command that serves an application as the service itself is served."""
    options = ["--interface", interface, "--port", str(port), "--workers", "1", "--no-ws"]
    return [sys.executable, "-m", "granian", *options, "--log-level", "warning", target]


def snapline(port: int, *options: str) -> list[str]:
    """Return the command that starts the service."""
    return [sys.executable, "-m", "snapline_service", "serve", "--port", str(port), *options]


def free_port() -> int:
    """Return a port that nobody uses."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def load_apart() -> Iterator[set[int]]:
    """Keep this process to the last core and yield the first, for servers of one worker.

    On one core each, they do not move about and their cost varies much less.
    """
    all_cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {max(all_cores)})
    try:
        yield {min(all_cores)}
    finally:
        os.sched_setaffinity(0, all_cores)


@contextmanager
def started(
    command: list[str],
    port: int,
    environment: Mapping[str, str] | None = None,
    probe: str = "/livez",
    cores: set[int] | None = None,
) -> Iterator[Server]:
    """Run a server until the block ends. Raises TimeoutError, with what it said, if it does not answer."""
    address = ("127.0.0.1", port)
    variables = {**os.environ, **(environment or {})}
    began_s = time.perf_counter()
    with tempfile.TemporaryFile() as said:
        # A session of its own, so that workers can be ended even if their parent cannot.
        process = subprocess.Popen(command, env=variables, stdout=said, stderr=said, start_new_session=True)
        try:
            if cores:
                os.sched_setaffinity(process.pid, cores)
            if not _answers(process, address, probe):
                said.seek(0)
                raise TimeoutError(said.read()[-5000:].decode())
            ready_after_s = time.perf_counter() - began_s
            yield Server(address, (process.pid, *_descendants(process.pid)), ready_after_s)
        finally:
            _stop(process)


def _answers(process: subprocess.Popen[bytes], address: Address, probe: str) -> bool:
    until_s = time.perf_counter() + _PATIENCE_S
    while time.perf_counter() < until_s and process.poll() is None:
        try:
            connection = Connection(address)
            connection.send(request(probe, {}))
            status, _ = connection.receive()
            connection.close()
        except OSError:
            status = 503
        if status < 500:
            return True
        time.sleep(0.005)
    return False


def _descendants(process: int) -> list[int]:
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            text = stat.read_text()
        except OSError:  # gone meanwhile
            continue
        parents[int(stat.parent.name)] = int(text.rpartition(")")[2].split()[1])
    found = [process]
    for parent in found:
        found += [child for child, its_parent in parents.items() if its_parent == parent]
    return found[1:]


def _stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
