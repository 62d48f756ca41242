"""Servers as processes of their own, and the CPU time that the kernel accounts to them (Linux)."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from benchmarks.load import Address, Connection, request

_PATIENCE_S = 60.0


@dataclass(frozen=True)
class Server:
    """A server that answers, with all of its processes."""

    address: Address
    processes: tuple[int, ...]
    ready_after_s: float

    def cpu_s(self) -> float:
        """Return the CPU time that it has used so far, to the nanosecond; /proc counts in steps of 10 ms."""
        return sum(time.clock_gettime(~process << 3 | 2) for process in self.processes)  # clock_getcpuclockid(3)


def granian(target: str, interface: str, port: int) -> list[str]:
    """Return the command that serves an application as the service itself is served."""
    options = ["--interface", interface, "--port", str(port), "--workers", "1", "--no-ws"]
    return [sys.executable, "-m", "granian", *options, "--log-level", "warning", target]


def snapline(database: str, port: int, *options: str) -> list[str]:
    """Return the command that starts the service."""
    return [sys.executable, "-m", "snapline_service", "serve", "--port", str(port), "--database", database, *options]


def free_port() -> int:
    """Return a port that nobody uses."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def started(
    command: list[str], port: int, environment: Mapping[str, str] | None = None, probe: str = "/livez"
) -> Iterator[Server]:
    """Run a server until the block ends. Raises TimeoutError if it does not answer."""
    address = ("127.0.0.1", port)
    began_s = time.perf_counter()
    # A session of its own, so that workers can be ended even if their parent cannot.
    process = subprocess.Popen(
        command, env={**os.environ, **(environment or {})}, stdout=subprocess.DEVNULL, start_new_session=True
    )
    try:
        _await_answer(process, address, probe)
        ready_after_s = time.perf_counter() - began_s
        yield Server(address, (process.pid, *_descendants(process.pid)), ready_after_s)
    finally:
        _stop(process)


def _await_answer(process: subprocess.Popen[bytes], address: Address, probe: str) -> None:
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
            return
        time.sleep(0.005)
    message = f"No answer from: {' '.join(process.args if isinstance(process.args, list) else [])}"
    raise TimeoutError(message)


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
