"""Speed does not get lost: generous gates, as ratios within one run, on Linux.

The whole comparison, with the peers and with large catalogues, is run by hand: ``tests/benchmarks``. P3 is
only there, since its peers are installed for nothing else. A measure that misses its gate is taken four times
more before the test fails, since other work on the machine disturbs it.
"""

import sqlite3
import sys
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest
from msgspec.json import encode

from benchmarks import look_ups, report, sdk, starting
from benchmarks.catalogues import BUSIEST_FIXTURE, Catalogue, catalogue, vehicle_id
from benchmarks.load import request
from benchmarks.measuring import Case, alternate, own_us
from benchmarks.report import Limit
from benchmarks.reverse import TimedFile, page_us
from benchmarks.servers import Server, load_apart
from snapline.offline import FORMAT, RevisionFile
from snapline.wire.fixtures import FixtureVehicle, Use
from snapline_service.revisions.filling import SCHEMA

VEHICLES, REQUESTS, ROUNDS = 1500, 600, 5
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="reads Linux's accounts of CPU time")


def best(measure: Callable[[], float], gate: float) -> float:
    """Return the smallest of up to five measures; the first that keeps to the gate is enough."""
    figure = measure()
    for _ in range(4):
        if figure > gate:
            figure = min(figure, measure())
    return figure


def gate_of(limit: Limit) -> float:
    assert limit.gate is not None
    return limit.gate


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    return catalogue(VEHICLES, tmp_path_factory.mktemp("catalogue"))


@pytest.fixture(scope="module")
def file(small: Catalogue) -> Iterator[RevisionFile]:
    file = small.file()
    yield file
    file.close()


@pytest.fixture(scope="module")
def names() -> list[str]:
    return [vehicle_id(number % VEHICLES) for number in range(REQUESTS)]


@pytest.fixture(scope="module")
def servers(small: Catalogue, file: RevisionFile, names: list[str]) -> Iterator[tuple[Server, Server]]:
    """The service and the bare limit, which answers as many bytes."""
    body = {"BENCHMARK_BODY_BYTES": str(look_ups.mean_bytes(file, names))}
    with (
        load_apart() as cores,
        small.served(cores=cores) as service,
        look_ups.served_by_peer("bare", "rsgi", body, cores) as bare,
    ):
        yield service, bare


def times_the_bare_limit(servers: tuple[Server, Server], requests: list[bytes], status: int = 200) -> float:
    service, bare = servers
    cases = {"service": Case(service, requests, status), "bare": Case(bare, [request("/", {})] * REQUESTS)}
    cost_us = alternate({name: case.cost_us for name, case in cases.items()}, ROUNDS)
    return cost_us["service"] / cost_us["bare"]


@linux_only
def test_p1_an_authenticated_look_up_costs_little_more_than_answering_at_all(
    servers: tuple[Server, Server], small: Catalogue, names: list[str]
) -> None:
    measure = partial(times_the_bare_limit, servers, look_ups.look_ups(small, names))
    gate = gate_of(report.LOOK_UP)
    assert best(measure, gate) <= gate


@linux_only
def test_p2_a_look_up_that_the_caller_has_already_costs_less(
    servers: tuple[Server, Server], small: Catalogue, file: RevisionFile, names: list[str]
) -> None:
    measure = partial(times_the_bare_limit, servers, look_ups.not_modified(small, file, names), 304)
    gate = gate_of(report.NOT_MODIFIED)
    assert best(measure, gate) <= gate


@linux_only
def test_p2_a_compressed_look_up_costs_less(
    servers: tuple[Server, Server], small: Catalogue, names: list[str]
) -> None:
    requests = look_ups.look_ups(small, names, {"accept-encoding": "gzip"})
    gate = gate_of(report.COMPRESSED)
    assert best(partial(times_the_bare_limit, servers, requests), gate) <= gate


@linux_only
def test_p5_a_page_of_the_reverse_look_up_costs_a_few_look_ups(
    servers: tuple[Server, Server], small: Catalogue, file: RevisionFile
) -> None:
    requests = look_ups.reverse_pages(small, file, REQUESTS)
    gate = gate_of(report.REVERSE_PAGE)
    assert best(partial(times_the_bare_limit, servers, requests), gate) <= gate


def item(number: int) -> FixtureVehicle:
    use = Use(
        system_id="forward_camera",
        system_kind="forward_camera",
        requirement_id="aim",
        alternative_id="camera-board",
        procedures=("camera-board",),
        role="one_alternative",
        match="named",
        also_needs=(),
    )
    return FixtureVehicle(
        vehicle_id=vehicle_id(number),
        make=f"make {number % 40:02d}",
        model=f"model {number % 60:02d}",
        model_year_first=2012 + number % 15,
        model_year_last=None,
        markets=("EU",),
        drive_side="left",
        uses=(use,),
    )


def file_with_uses(path: Path, vehicles: int) -> TimedFile:
    """Return a revision file in which the busiest fixture serves so many vehicles."""
    connection = sqlite3.connect(path)
    connection.executescript(SCHEMA)
    meta = [("format", FORMAT), ("revision", "1"), ("manifest_hash", "none")]
    connection.executemany("INSERT INTO meta VALUES (?, ?)", meta)
    rows = (
        (BUSIEST_FIXTURE, "stated", "", v.make, v.model, v.model_year_first, v.vehicle_id, 9999, encode(v))
        for v in map(item, range(vehicles))
    )
    connection.executemany("INSERT INTO fixture_vehicles VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
    connection.commit()
    connection.close()
    return TimedFile(path)


def test_p4_a_page_of_the_reverse_look_up_does_not_feel_how_many_there_are(tmp_path: Path) -> None:
    few, many = (file_with_uses(tmp_path / f"{count}.sqlite", count) for count in (2_000, 20_000))
    pages_of = {
        "few": partial(page_us, few, BUSIEST_FIXTURE, look_ups.reverse_tokens(few)),
        "many": partial(page_us, many, BUSIEST_FIXTURE, look_ups.reverse_tokens(many)),
    }

    def growth() -> float:
        took_us = alternate(pages_of, ROUNDS)
        return took_us["many"] / took_us["few"]

    gate = gate_of(report.REVERSE_GROWTH)
    assert best(growth, gate) <= gate


@linux_only
def test_p6_a_call_of_the_sdk_costs_little_more_than_the_http_library_alone(
    servers: tuple[Server, Server], small: Catalogue, file: RevisionFile
) -> None:
    name = vehicle_id(0)
    with sdk.calls(servers[0], small.making.key, name) as measures:
        offline = own_us(partial(file.vehicle, name), 1000)
        compared = {"sdk": measures["sdk"], "httpx": measures["httpx, decoded"], "offline": offline}

        def excess() -> float:
            cost_us = alternate(compared, ROUNDS)
            assert cost_us["offline"] < cost_us["httpx"] / 10
            return cost_us["sdk"] / cost_us["httpx"]

        gate = gate_of(report.SDK_CALL)
        assert best(excess, gate) <= gate


def test_p6_the_import_of_the_sdk_is_light() -> None:
    runs = {"nothing": starting.python("pass"), "snapline": starting.python("import snapline")}

    def times_the_interpreter() -> float:
        took_ms = alternate(runs, ROUNDS)
        return took_ms["snapline"] / took_ms["nothing"]

    # 90 ms is the gate where an interpreter starts in 10 ms.
    assert best(times_the_interpreter, 10) <= 10
    assert starting.modules_of("snapline") <= report.IMPORT_MODULES.goal


@linux_only
def test_p8_the_service_is_soon_ready_with_its_demo_catalogue() -> None:
    def times_a_bare_server() -> float:
        return starting.start_service().ready_after_s / starting.start_bare().ready_after_s

    # 1.5 s is the goal where a bare server needs 0.2 s; the gate is three times that.
    assert best(times_a_bare_server, 22) <= 22
