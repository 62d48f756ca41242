"""P1, P2, P3 and P5: what a look-up over HTTP costs, beside the bare limit and the peers."""

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from random import Random

import msgspec
from msgspec import Struct

from benchmarks import report
from benchmarks.catalogues import BUSIEST_FIXTURE, Catalogue, vehicle_id
from benchmarks.load import Connection, request
from benchmarks.measuring import Case, alternate
from benchmarks.report import Report
from benchmarks.servers import Server, free_port, granian, load_apart, started
from snapline.offline import RevisionFile
from snapline.wire.fixtures import FixtureVehicleQuery
from snapline.wire.vehicles import VehicleQuery

# The normalised peer is given no more vehicles than these, which favours it; all are asked for these.
ASKED_FOR = 10_000
_NORMALISED_SHARE, _PAGE_SHARE, _FASTAPI_SHARE = 20, 5, 4
_TESTS = Path(__file__).resolve().parents[1]


class _Page(Struct):
    next_page_token: str | None = None


def measure(table: Report, catalogue: Catalogue, rounds: int, count: int) -> None:
    """Add the figures of a catalogue, from so many requests in a round and fewer to what is slow."""
    file, rng = catalogue.file(), Random(1)
    names = [vehicle_id(n) for n in rng.sample(range(catalogue.vehicles), min(ASKED_FOR, catalogue.vehicles))]
    asked = rng.choices(names, k=count)
    plain = look_ups(catalogue, asked)
    coroutines = look_ups(catalogue, asked[: count // _FASTAPI_SHARE], below="/async")
    with (
        load_apart() as cores,
        _peers(catalogue, file, names, cores) as peers,
        catalogue.served(cores=cores) as service,
    ):
        cases = {
            "bare": Case(peers["bare"], plain),
            "look-up": Case(service, plain),
            "304": Case(service, not_modified(catalogue, file, asked), 304),
            "gzip": Case(service, look_ups(catalogue, asked, {"accept-encoding": "gzip"})),
            "reverse": Case(service, reverse_pages(catalogue, file, count // _PAGE_SHARE)),
            "list": Case(service, list_pages(catalogue, file, count // _PAGE_SHARE)),
            "litestar": Case(peers["litestar_prepared"], plain),
            "fastapi": Case(peers["fastapi_prepared"], plain[: count // _FASTAPI_SHARE]),
            "fastapi, async": Case(peers["fastapi_prepared"], coroutines),
            "normalised": Case(peers["fastapi_normalised"], plain[: count // _NORMALISED_SHARE]),
        }
        _same_answers(plain[0], [service, peers["litestar_prepared"], peers["fastapi_prepared"]])
        cost_us = alternate({name: case.cost_us for name, case in cases.items()}, rounds)
    bare_us = cost_us["bare"]
    table.section(f"Over HTTP, {catalogue.vehicles:,} vehicles: CPU time of the server per request")
    table.add(f"the bare limit: granian, RSGI, {mean_bytes(file, asked):,} fixed bytes", bare_us, "µs")
    for what, name, limit in (
        ("P1 authenticated look-up of a vehicle", "look-up", report.LOOK_UP),
        ("P2 the same, answered 304", "304", report.NOT_MODIFIED),
        ("P2 the same, compressed", "gzip", report.COMPRESSED),
        ("P5 reverse page of 50, anywhere in the list", "reverse", report.REVERSE_PAGE),
        ("vehicle list, page of 50, anywhere in it", "list", None),
        ("ordinary Litestar handler, prepared bytes", "litestar", None),
        ("FastAPI, prepared bytes", "fastapi", None),
        ("the same in coroutines", "fastapi, async", None),
        ("FastAPI and SQLModel, normalised tables", "normalised", None),
    ):
        table.add(what, cost_us[name] / bare_us, "× the bare limit", limit, f"{cost_us[name]:,.0f} µs")
    for what, name, below in (
        ("P3 look-up cheaper than FastAPI and SQLModel", "normalised", report.BELOW_NORMALISED),
        ("P3 look-up cheaper than FastAPI, prepared bytes", "fastapi", report.BELOW_PREPARED),
        ("the same against its coroutines", "fastapi, async", None),
    ):
        table.add(what, cost_us[name] / cost_us["look-up"], "×", below)


def look_ups(
    catalogue: Catalogue, names: list[str], headers: dict[str, str] | None = None, below: str = ""
) -> list[bytes]:
    """Return look-ups of vehicles."""
    sent = catalogue.headers | (headers or {})
    return [request(f"{below}/v1/vehicles/{name}", sent) for name in names]


def not_modified(catalogue: Catalogue, file: RevisionFile, names: list[str]) -> list[bytes]:
    """Return look-ups of vehicles that the caller has already."""
    requests = []
    for name in names:
        found = file.vehicle(name)
        assert found
        requests += look_ups(catalogue, [name], {"if-none-match": found.etag})
    return requests


def reverse_pages(catalogue: Catalogue, file: RevisionFile, count: int) -> list[bytes]:
    """Return requests for different pages of 50 anywhere among what the busiest fixture serves."""
    return _pages(
        catalogue, f"/v1/fixtures/{BUSIEST_FIXTURE}/vehicles", reverse_tokens(file, _step(catalogue)), count
    )


def list_pages(catalogue: Catalogue, file: RevisionFile, count: int) -> list[bytes]:
    """Return requests for different pages of 50 anywhere in the list of vehicles."""

    def page(token: str | None) -> bytes:
        return file.vehicle_page(VehicleQuery(page_size=_step(catalogue), page_token=token))

    return _pages(catalogue, "/v1/vehicles", _tokens(page), count)


def reverse_tokens(file: RevisionFile, step: int = 50) -> list[str]:
    """Return tokens of pages that begin so many vehicles apart, for what the busiest fixture serves."""

    def page(token: str | None) -> bytes:
        query = FixtureVehicleQuery(page_size=step, page_token=token)
        return file.fixture_vehicle_page(BUSIEST_FIXTURE, query)

    return _tokens(page)


def _pages(catalogue: Catalogue, path: str, tokens: list[str], count: int) -> list[bytes]:
    # No page twice in a round: what a service may keep of the last pages must not stand for making them.
    chosen = Random(1).sample(tokens, min(count, len(tokens)))
    return [request(f"{path}?page_size=50&page_token={token}", catalogue.headers) for token in chosen]


def _step(catalogue: Catalogue) -> int:
    """Return a distance between pages that makes some thousand of them in any catalogue."""
    return max(1, catalogue.vehicles // 6000)


def _tokens(page: Callable[[str | None], bytes]) -> list[str]:
    tokens: list[str] = []
    while token := msgspec.json.decode(page(tokens[-1] if tokens else None), type=_Page).next_page_token:
        tokens.append(token)
    return tokens


def mean_bytes(file: RevisionFile, names: list[str]) -> int:
    """Return the mean size of some vehicles' documents."""
    sizes = [len(found.body) for name in names[:1000] if (found := file.vehicle(name))]
    return sum(sizes) // len(sizes)


@contextmanager
def served_by_peer(
    name: str, interface: str, variables: dict[str, str], cores: set[int] | None = None
) -> Iterator[Server]:
    """Run one of the peers until the block ends."""
    port = free_port()
    command = granian(f"benchmarks.peers.{name}:app", interface, port)
    path = os.pathsep.join([str(_TESTS), *os.environ.get("PYTHONPATH", "").split(os.pathsep)])
    with started(command, port, {**variables, "PYTHONPATH": path}, cores=cores) as server:
        yield server


@contextmanager
def _peers(
    catalogue: Catalogue, file: RevisionFile, names: list[str], cores: set[int]
) -> Iterator[dict[str, Server]]:
    normalised = catalogue.folder / "normalised.db"
    if not normalised.exists():
        # Its tables would join the service's own in SQLModel's one registry, which tests compare.
        from benchmarks.peers import normalised_filling  # noqa: PLC0415 - as the line above says

        normalised_filling.fill(normalised, file, names)
    variables = {
        "BENCHMARK_BODY_BYTES": str(mean_bytes(file, names)),
        "BENCHMARK_REVISION_FILE": str(catalogue.path),
        "BENCHMARK_KEY": catalogue.making.key,
        "BENCHMARK_NORMALISED_FILE": str(normalised),
    }
    interfaces = {
        "bare": "rsgi",
        "litestar_prepared": "asgi",
        "fastapi_prepared": "asgi",
        "fastapi_normalised": "asgi",
    }
    with ExitStack() as stack:
        yield {
            name: stack.enter_context(served_by_peer(name, interface, variables, cores))
            for name, interface in interfaces.items()
        }


def _same_answers(text: bytes, servers: list[Server]) -> None:
    """Raise ValueError unless all of them answer the same bytes: else the comparison would mean nothing."""
    answers = set()
    for server in servers:
        connection = Connection(server.address)
        connection.send(text)
        answers.add(connection.receive())
        connection.close()
    if len(answers) > 1:
        message = "The servers answer differently."
        raise ValueError(message)
