"""Everything that a revision file answers, to hold two files against each other."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, TypeVar

import msgspec

from snapline.offline import RevisionFile
from snapline.wire.fixtures import FixtureQuery, FixtureVehicleQuery
from snapline.wire.vehicles import VehicleQuery

Q = TypeVar("Q", VehicleQuery, FixtureQuery, FixtureVehicleQuery)
WORDS = ("", "camera", "rad", "mir cel", "2023", "eu", "sennic", "front 2022")


def answers(file: RevisionFile) -> dict[str, Any]:
    """Return every answer of a file by what was asked."""
    found: dict[str, Any] = {}
    vehicles = [item.id for item in _items(file.list_vehicles, VehicleQuery(page_size=200))]
    fixtures = [item.id for item in _items(file.list_fixtures, FixtureQuery(page_size=200))]
    for name in vehicles:
        found[f"vehicle {name}"] = (file.vehicle(name), file.vehicle(name, gzip=True))
    for name in fixtures:
        found[f"fixture {name}"] = (file.fixture(name), file.fixture(name, gzip=True))
        for by_property in (False, True):
            served = FixtureVehicleQuery(by_property=by_property, page_size=3)
            pages = list(_pages(partial(file.fixture_vehicle_page, name), served))
            found[f"vehicles of {name} {by_property}"] = pages
    for query in _vehicle_queries(file):
        found[f"{query}"] = list(_pages(file.vehicle_page, query))
    found["fixtures"] = list(_pages(file.fixture_page, FixtureQuery(page_size=4)))
    found["makes"] = sorted(file.makes())
    found["models"] = {make: sorted(file.models(make)) for make in file.makes()}
    found["sources"], found["operations"] = file.sources(), file.operations()
    car = [file.get_vehicle(name) for name in vehicles]
    codes = {p.pattern[:3] for one in car if one for p in one.vin_patterns}
    found["patterns"] = {
        code: sorted((row.vehicle_id, row.pattern) for row in file.vin_patterns(code)) for code in codes
    }
    found["nothing"] = (file.vehicle("nobody"), file.fixture("nothing"), file.vin_patterns("ZZZ"))
    return found


def _vehicle_queries(file: RevisionFile) -> Iterator[VehicleQuery]:
    for words in WORDS:
        for kind in (None, "forward_camera", "forward_radar"):
            for size in (1, 4, 50):
                yield VehicleQuery(q=words or None, system_kind=kind, page_size=size)
    for make in file.makes():
        yield VehicleQuery(make=make, page_size=2)
        yield VehicleQuery(make=make, market="EU", model_year=2023)


def _pages(page: Callable[[Q], bytes], query: Q) -> Iterator[bytes]:
    while True:
        body = page(query)
        yield body
        token = msgspec.json.decode(body).get("next_page_token")
        if token is None:
            return
        query = msgspec.structs.replace(query, page_token=token)


def _items(page: Callable[[Any], Any], query: Any) -> Iterator[Any]:
    found = page(query)
    yield from found.items
    while found.next_page_token:
        found = page(msgspec.structs.replace(query, page_token=found.next_page_token))
        yield from found.items
