"""The demo scenario as values, and every placement of it worked out."""

import json
import re
import sqlite3
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

import msgspec

from snapline.wire.catalogue import (
    FixtureDocument,
    FixturePlacement,
    OperationDocument,
    Procedure,
    SourceDocument,
    VehicleDocument,
)
from snapline.wire.sites import SiteDocument
from snapline_service.catalogue.files import Filed, read
from snapline_service.errors import MissingDimension
from snapline_service.geometry import Pose, place
from snapline_service.setups.translation import placement_of, vehicle_geometry

FOLDER = Path(__file__).resolve().parents[3] / "demo_fixtures"
FILED = list(read(FOLDER / "catalogue"))
DOCUMENTS = [filed.document for filed in FILED if isinstance(filed, Filed)]
VEHICLES = {d.id: d for d in DOCUMENTS if isinstance(d, VehicleDocument)}
FIXTURES = {d.id: d for d in DOCUMENTS if isinstance(d, FixtureDocument)}
OPERATIONS = {d.id: d for d in DOCUMENTS if isinstance(d, OperationDocument)}
SOURCES = {d.id: d for d in DOCUMENTS if isinstance(d, SourceDocument)}
CORRECTIONS = list(read(FOLDER / "correction"))
SITES = [
    msgspec.json.decode(p.read_bytes(), type=SiteDocument) for p in sorted((FOLDER / "sites").glob("*.json"))
]
BAYS = {bay.id: bay for site in SITES for bay in site.bays}
EXAMPLE_VINS: dict[str, str] = json.loads((FOLDER / "example_vins.json").read_text())["vins"]


class Standing(NamedTuple):
    """A placement, what it belongs to, and the pose that it comes to."""

    vehicle: VehicleDocument
    procedure: Procedure
    item: FixturePlacement
    kinds: frozenset[str]
    pose: Pose

    @property
    def ahead_of_bumper_mm(self) -> float:
        size = self.vehicle.dimensions
        assert size.wheelbase_mm is not None
        assert size.front_overhang_mm is not None
        return self.pose.x_mm - size.wheelbase_mm - size.front_overhang_mm

    @property
    def behind_bumper_mm(self) -> float:
        assert self.vehicle.dimensions.rear_overhang_mm is not None
        return -self.vehicle.dimensions.rear_overhang_mm - self.pose.x_mm


def fixtures_for(item: FixturePlacement) -> list[FixtureDocument]:
    """Return the fixtures that are named or stated to serve; without any, all corner reflectors."""
    stated = [
        fixture
        for fixture in FIXTURES.values()
        if fixture.id in item.need.named
        or item.need.capability in {c.capability for c in fixture.capabilities}
    ]
    return stated or [fixture for fixture in FIXTURES.values() if fixture.fixture_kind == "corner_reflector"]


def every_placement() -> Iterator[tuple[VehicleDocument, Procedure, FixturePlacement]]:
    for vehicle in VEHICLES.values():
        for procedure in vehicle.procedures:
            for stage in procedure.stages:
                for item in stage.placements:
                    yield vehicle, procedure, item


def everything_standing() -> Iterator[Standing]:
    """Work out every placement whose vehicle has the dimensions for it."""
    for vehicle, procedure, item in every_placement():
        kinds = frozenset(fixture.fixture_kind for fixture in fixtures_for(item))
        try:
            placed = place(vehicle_geometry(vehicle), placement_of(item.placement))
        except MissingDimension:
            continue
        yield Standing(vehicle, procedure, item, kinds, placed.in_vehicle)


STANDING = list(everything_standing())


def normalised(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


def vpic(column: str, table: str) -> set[str]:
    """Return a column of the vPIC extract in the package ``vin`` (NHTSA, release of March 2024)."""
    with sqlite3.connect(f"{files('vin').joinpath('vehicle.db').as_uri()}?immutable=1", uri=True) as database:  # type: ignore[attr-defined]
        found = {row[0] for row in database.execute(f"SELECT DISTINCT {column} FROM {table}")}
    database.close()
    return found
