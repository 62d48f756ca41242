"""The synthetic catalogue: sound, repeatable, endless, and popular as equipment is in a workshop group."""

from collections import Counter
from itertools import islice
from statistics import mean

import msgspec
import pytest
from vininfo.dicts.wmi import WMI  # type: ignore[import-untyped]

from service.catalogue.demo import normalised, vpic
from snapline.wire.catalogue import CatalogueDocument, OperationDocument, VehicleDocument
from snapline_service.catalogue.documents import from_json, kind_of
from snapline_service.catalogue.references import Names, check
from snapline_service.catalogue.synthetic import synthetic_documents
from snapline_service.vehicles.vin import matches

VEHICLE_COUNT = 3000


@pytest.fixture(scope="module")
def documents() -> list[CatalogueDocument]:
    return list(synthetic_documents(VEHICLE_COUNT))


@pytest.fixture(scope="module")
def vehicles(documents: list[CatalogueDocument]) -> list[VehicleDocument]:
    return [document for document in documents if isinstance(document, VehicleDocument)]


def test_sources_operations_and_fixtures_come_before_the_vehicles(documents: list[CatalogueDocument]) -> None:
    kinds = [kind_of(document) for document in documents]
    assert list(dict.fromkeys(kinds)) == ["source", "operation", "fixture", "vehicle"]
    assert kinds.count("vehicle") == VEHICLE_COUNT
    assert sorted(kinds, key=["source", "operation", "fixture", "vehicle"].index) == kinds


def test_every_document_says_that_it_is_invented_and_has_a_name_of_its_own(
    documents: list[CatalogueDocument],
) -> None:
    assert all(document.invented for document in documents)
    assert len({(kind_of(document), document.id) for document in documents}) == len(documents)


def test_the_importer_finds_nothing_wrong(documents: list[CatalogueDocument]) -> None:
    operations = {d.id: d for d in documents if isinstance(d, OperationDocument)}
    ids = {kind: frozenset(d.id for d in documents if kind_of(d) == kind) for kind in ("source", "fixture")}
    names = Names(ids["source"], ids["fixture"], operations)
    for document in documents[:700]:
        again, faults = from_json(msgspec.json.decode(msgspec.json.encode(document)))
        assert again == document
        assert faults == []
        assert check(document, names) == []


def test_equal_arguments_give_equal_documents_and_another_seed_gives_others() -> None:
    def body(vehicles: int, seed: int) -> list[bytes]:
        return [msgspec.json.encode(document) for document in synthetic_documents(vehicles, seed)]

    assert body(50, seed=7) == body(50, seed=7)
    assert body(50, seed=7) != body(50, seed=8)
    assert body(80, seed=7)[: len(body(50, seed=7))] == body(50, seed=7)


def test_documents_come_one_at_a_time() -> None:
    """A thousand million vehicles would never fit into memory."""
    assert len(list(islice(synthetic_documents(10**9), 1000))) == 1000


def test_a_vehicle_document_has_about_six_kilobytes(vehicles: list[VehicleDocument]) -> None:
    assert 5500 <= mean(len(msgspec.json.encode(vehicle)) for vehicle in vehicles) <= 6500


def test_some_fixtures_serve_many_vehicles_and_most_serve_few(vehicles: list[VehicleDocument]) -> None:
    served = Counter(name for vehicle in vehicles for name in fixtures_of(vehicle))
    counts = sorted(served.values(), reverse=True)
    # At 200,000 vehicles a tenth is tens of thousands and a thousandth a few hundred.
    assert counts[0] >= VEHICLE_COUNT / 10
    assert sum(count <= VEHICLE_COUNT / 1000 for count in counts) > len(counts) / 3


def fixtures_of(vehicle: VehicleDocument) -> set[str]:
    stages = [stage for procedure in vehicle.procedures for stage in procedure.stages]
    return {name for stage in stages for item in stage.placements for name in item.need.named}


def test_makes_models_and_years_are_spread(vehicles: list[VehicleDocument]) -> None:
    makes = Counter(vehicle.make for vehicle in vehicles)
    assert len(makes) >= 30
    assert max(makes.values()) < VEHICLE_COUNT / 10
    assert len({(vehicle.make, vehicle.model) for vehicle in vehicles}) > 1000
    assert len({vehicle.model_year_first for vehicle in vehicles}) >= 12


def test_makes_and_manufacturer_codes_are_nobodys(vehicles: list[VehicleDocument]) -> None:
    makers = {normalised(name) for table in ("make", "manufacturer") for name in vpic("name", table)}
    codes = {vehicle.vin_patterns[0].pattern[:3] for vehicle in vehicles}
    assert len(codes) == len({vehicle.make for vehicle in vehicles})
    assert not codes & (vpic("code", "wmi") | vpic("wmi", "pattern"))
    assert not any(code.startswith(known) for code in codes for known in WMI)
    assert not {normalised(vehicle.make) for vehicle in vehicles} & makers


def test_a_vehicle_is_found_by_its_own_pattern(vehicles: list[VehicleDocument]) -> None:
    for vehicle in vehicles[:200]:
        pattern = vehicle.vin_patterns[0].pattern
        year = pattern.partition("[ABCDEFGH]??[")[2][0]
        assert matches(pattern, f"{pattern[:6]}A55{year}1000001")
