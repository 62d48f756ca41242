"""P6: what the SDK costs its caller."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial

import httpx

from benchmarks import report, starting
from benchmarks.catalogues import Catalogue, vehicle_id
from benchmarks.measuring import Measure, alternate, own_us
from benchmarks.report import Report
from benchmarks.servers import Server
from snapline import Headers, Reply, Request, Snapline

_CALLS = 200


class FreshForAWhile:
    """A transport that always gives one answer, which may be used again for an hour."""

    def __init__(self, body: bytes) -> None:
        self._reply = Reply(200, Headers({"etag": '"1"', "cache-control": "max-age=3600"}), body)

    def send(self, request: Request) -> Reply:  # noqa: ARG002 - a transport's signature
        """Answer."""
        return self._reply

    def close(self) -> None:
        """Nothing is open."""


@contextmanager
def calls(server: Server, key: str, name: str) -> Iterator[dict[str, Measure]]:
    """Yield measures of the same look-up made in different ways."""
    url = f"http://127.0.0.1:{server.address[1]}"
    address = f"/v1/vehicles/{name}"
    with (
        Snapline(url, key, cache=False) as client,
        Snapline(url, key) as caching,
        httpx.Client(base_url=url, headers={"authorization": f"Bearer {key}"}) as bare,
    ):
        yield {
            "sdk": own_us(partial(client.vehicles.get, name), _CALLS),
            "sdk, 304": own_us(partial(caching.vehicles.get, name), _CALLS),
            "httpx": own_us(lambda: bare.get(address).content, _CALLS),
            "httpx, decoded": own_us(lambda: bare.get(address).json(), _CALLS),
        }


def measure(table: Report, catalogue: Catalogue, rounds: int) -> None:
    """Add what calls cost this process, and what the import costs a new one."""
    name, file = vehicle_id(0), catalogue.file()
    found = file.vehicle(name)
    assert found
    fresh = Snapline("http://nobody", "snl_key", transport=FreshForAWhile(found.body))
    fresh.vehicles.get(name)
    with catalogue.served() as server, calls(server, catalogue.making.key, name) as over_http:
        costs = over_http | {
            "fresh": own_us(partial(fresh.vehicles.get, name), 10 * _CALLS),
            "offline bytes": own_us(partial(file.vehicle, name), 10 * _CALLS),
            "offline": own_us(partial(file.get_vehicle, name), 10 * _CALLS),
        }
        cost_us = alternate(costs, rounds)
    table.section("SDK: CPU time of the calling process")
    note = f"{cost_us['sdk']:,.0f} µs"
    ratio = cost_us["sdk"] / cost_us["httpx, decoded"]
    table.add("P6 look-up by the SDK against httpx and its json()", ratio, "×", report.SDK_CALL, note)
    table.add("the same against httpx, body left undecoded", cost_us["sdk"] / cost_us["httpx"])
    table.add("the same, kept and confirmed by 304", cost_us["sdk, 304"] / cost_us["httpx, decoded"])
    table.add("P6 kept and still fresh", cost_us["fresh"], "µs", report.OFFLINE_US)
    table.add("P6 offline, prepared bytes", cost_us["offline bytes"], "µs", report.OFFLINE_US)
    table.add("offline, decoded", cost_us["offline"], "µs")
    imported = alternate(
        {"nothing": starting.python("pass"), "snapline": starting.python("import snapline")}, 11
    )
    took_ms = imported["snapline"] - imported["nothing"]
    note = f"the interpreter itself {imported['nothing']:.0f} ms"
    table.add("P6 import snapline", took_ms, "ms", report.IMPORT_MS, note)
    table.add("P6 import snapline", starting.modules_of("snapline"), "modules", report.IMPORT_MODULES)
