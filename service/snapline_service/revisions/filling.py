"""Write the rows of a revision file: every answer prepared, every index in place."""

import gzip
import hashlib
import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Mapping

import msgspec
from msgspec import Struct

from snapline.offline import sort_words
from snapline.wire.catalogue import FixtureDocument, OperationDocument, SourceDocument, VehicleDocument
from snapline.wire.common import Caution, Source
from snapline.wire.fixtures import Fixture, FixtureSummary, FixtureVehicle, Use
from snapline.wire.vehicles import Vehicle
from snapline_service import cautions
from snapline_service.fixtures.matching import Shelf
from snapline_service.fixtures.reverse import needs_of_all, uses
from snapline_service.revisions.quoting import quoted_sources
from snapline_service.vehicles.summary import vehicle_summary

NO_LAST_YEAR = 9999
SortKey = tuple[str, str, int, str]
# Of what a vehicle's answers depend on beside its own document; fixtures can also meet a need by their radar
# properties, all of which "radar" stands for.
RADAR = "radar"

SCHEMA = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT) WITHOUT ROWID;
CREATE TABLE entries (kind TEXT, name TEXT, hash TEXT, since INTEGER, PRIMARY KEY (kind, name)) WITHOUT ROWID;
CREATE TABLE overridden (kind TEXT, name TEXT, PRIMARY KEY (kind, name)) WITHOUT ROWID;
CREATE TABLE vehicles (
    rank INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, make_key TEXT, model_key TEXT, year_first INTEGER,
    etag TEXT, gzip_etag TEXT, gzip BLOB, body BLOB
);
CREATE TABLE vehicle_list (
    kind TEXT, make_key TEXT, model_key TEXT, year_first INTEGER, id TEXT, year_last INTEGER, markets TEXT,
    summary BLOB, PRIMARY KEY (kind, make_key, model_key, year_first, id)
) WITHOUT ROWID;
CREATE VIRTUAL TABLE vehicle_text USING fts5(text, content='', prefix='2 3');
CREATE TABLE vin_patterns (wmi TEXT, pattern TEXT, vehicle_id TEXT, PRIMARY KEY (wmi, pattern, vehicle_id))
    WITHOUT ROWID;
CREATE TABLE fixtures (
    id TEXT PRIMARY KEY, fixture_kind TEXT, capabilities TEXT, summary BLOB,
    etag TEXT, gzip_etag TEXT, gzip BLOB, body BLOB
);
CREATE TABLE fixture_vehicles (
    fixture_id TEXT, basis TEXT, kind TEXT, make_key TEXT, model_key TEXT, year_first INTEGER,
    vehicle_id TEXT, year_last INTEGER, item BLOB,
    PRIMARY KEY (fixture_id, basis, kind, make_key, model_key, year_first, vehicle_id)
) WITHOUT ROWID;
CREATE TABLE sources (id TEXT PRIMARY KEY, body BLOB) WITHOUT ROWID;
CREATE TABLE operations (id TEXT PRIMARY KEY, body BLOB) WITHOUT ROWID;
CREATE TABLE grounds (id INTEGER PRIMARY KEY, ground TEXT UNIQUE);
CREATE TABLE rests_on (ground INTEGER, rank INTEGER, PRIMARY KEY (ground, rank)) WITHOUT ROWID;
"""
INDEX = "CREATE UNIQUE INDEX vehicle_order ON vehicles (make_key, model_key, year_first, id)"


class Filling(Struct):
    """A revision file being written, and the parts of the catalogue that vehicles refer to.

    ``since`` says in which revision a document last changed, by kind and name.
    """

    file: sqlite3.Connection
    since: Mapping[tuple[str, str], int]
    sources: Mapping[str, SourceDocument]
    shelf: Shelf
    grounds: dict[str, int]

    def changed_in(self, kind: str, name: str, sources: Iterable[Source]) -> int:
        """Return the revision in which a document, or a source that its answer quotes, last changed."""
        quoted = [self.since["source", source.id] for source in sources]
        return max([self.since[kind, name], *quoted])

    def quoted(self, document: Struct) -> tuple[Source, ...]:
        """Return the sources that a document refers to."""
        names = sorted(quoted_sources(document))
        return tuple(msgspec.convert(self.sources[n], Source, from_attributes=True) for n in names)

    def ground(self, name: str) -> int:
        """Return the number by which the file knows a ground."""
        number = self.grounds.get(name)
        if number is None:
            number = self.grounds[name] = len(self.grounds) + 1
            self.file.execute("INSERT INTO grounds VALUES (?, ?)", (number, name))
        return number


def sort_key(vehicle: VehicleDocument) -> SortKey:
    """Return a vehicle's place in the list."""
    return sort_words(vehicle.make), sort_words(vehicle.model), vehicle.model_year_first, vehicle.id


def add_small(file: sqlite3.Connection, document: SourceDocument | OperationDocument) -> None:
    """Write a source or an operation."""
    table = "sources" if isinstance(document, SourceDocument) else "operations"
    file.execute(f"INSERT INTO {table} VALUES (?, ?)", (document.id, msgspec.json.encode(document)))  # noqa: S608 - fixed names


def add_fixture(filling: Filling, fixture: FixtureDocument) -> None:
    """Write a fixture."""
    sources = filling.quoted(fixture)
    changed_in = filling.changed_in("fixture", fixture.id, sources)
    answer = Fixture(
        **msgspec.structs.asdict(fixture),
        changed_in_revision=changed_in,
        sources=sources,
        cautions=cautions.for_work([], [], [fixture.fixture_kind]),
    )
    capabilities = tuple(stated.capability for stated in fixture.capabilities)
    summary = FixtureSummary(
        id=fixture.id,
        name=fixture.name,
        fixture_kind=fixture.fixture_kind,
        capabilities=capabilities,
        invented=fixture.invented,
        changed_in_revision=changed_in,
    )
    row = (fixture.id, fixture.fixture_kind, _padded(capabilities), msgspec.json.encode(summary))
    filling.file.execute("INSERT INTO fixtures VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row + _prepared(answer))


def add_vehicle(filling: Filling, rank: int, vehicle: VehicleDocument) -> None:
    """Write a vehicle."""
    file, key = filling.file, sort_key(vehicle)
    sources = filling.quoted(vehicle)
    changed_in = filling.changed_in("vehicle", vehicle.id, sources)
    answer = Vehicle(
        **msgspec.structs.asdict(vehicle),
        changed_in_revision=changed_in,
        sources=sources,
        cautions=_vehicle_cautions(filling, vehicle),
    )
    row = (rank, vehicle.id, *key[:3], *_prepared(answer))
    file.execute("INSERT INTO vehicles VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    summary = vehicle_summary(vehicle, changed_in)
    tail = (vehicle.model_year_last or NO_LAST_YEAR, _padded(vehicle.markets), msgspec.json.encode(summary))
    kinds = ["", *sorted({system.kind for system in vehicle.systems})]
    rows = ((kind, *key, *tail) for kind in kinds)
    file.executemany("INSERT INTO vehicle_list VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
    file.execute("INSERT INTO vehicle_text (rowid, text) VALUES (?, ?)", (rank, searchable(vehicle)))
    patterns = ((_wmi(p.pattern), p.pattern, vehicle.id) for p in vehicle.vin_patterns)
    file.executemany("INSERT OR IGNORE INTO vin_patterns VALUES (?, ?, ?)", patterns)
    _add_uses(filling, vehicle, key)
    grounds = ((filling.ground(name), rank) for name in sorted(grounds_of(vehicle)))
    file.executemany("INSERT INTO rests_on VALUES (?, ?)", grounds)


def grounds_of(vehicle: VehicleDocument) -> set[str]:
    """Return everything outside a vehicle's document on which its answers or its references rest."""
    grounds = {f"source {name}" for name in quoted_sources(vehicle)}
    grounds |= {f"operation {rule.operation}" for system in vehicle.systems for rule in system.disturbances}
    for need in needs_of_all(vehicle.procedures):
        grounds |= {f"capability {need.capability}", *(f"fixture {name}" for name in need.named)}
        if need.radar:
            grounds.add(RADAR)
    return grounds


def searchable(vehicle: VehicleDocument) -> str:
    """Return the text by which a vehicle is found."""
    words = [vehicle.make, vehicle.model, vehicle.body, vehicle.id.replace("-", " ")]
    words += [f"{system.name} {system.kind.replace('_', ' ')}" for system in vehicle.systems]
    return " ".join(words)


def _add_uses(filling: Filling, vehicle: VehicleDocument, key: SortKey) -> None:
    """Write the reverse look-up's rows: all uses together, and those of each kind of system by themselves."""
    rows: dict[tuple[str, str, str], list[Use]] = defaultdict(list)
    for found in uses(vehicle, filling.shelf):
        basis = "by_property" if found.use.match == "by_property" else "stated"
        for kind in ("", found.use.system_kind):
            rows[found.fixture_id, basis, kind].append(found.use)
    year_last = vehicle.model_year_last or NO_LAST_YEAR
    filling.file.executemany(
        "INSERT INTO fixture_vehicles VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        ((*place, *key, year_last, _reverse_item(vehicle, found)) for place, found in rows.items()),
    )


def _reverse_item(vehicle: VehicleDocument, found: list[Use]) -> bytes:
    return msgspec.json.encode(
        FixtureVehicle(
            vehicle_id=vehicle.id,
            make=vehicle.make,
            model=vehicle.model,
            model_year_first=vehicle.model_year_first,
            model_year_last=vehicle.model_year_last,
            markets=vehicle.markets,
            drive_side=vehicle.drive_side,
            uses=tuple(found),
        )
    )


def _vehicle_cautions(filling: Filling, vehicle: VehicleDocument) -> tuple[Caution, ...]:
    kinds = filling.shelf.kinds(needs_of_all(vehicle.procedures))
    return cautions.for_work(vehicle.procedures, {system.kind for system in vehicle.systems}, kinds)


def _prepared(answer: Struct) -> tuple[str, str, bytes, bytes]:
    """Return an answer's body, plain and compressed, after the strong ETag of each."""
    body = msgspec.json.encode(answer)
    tag = hashlib.sha256(body).hexdigest()[:32]
    return f'"{tag}"', f'"{tag}-gzip"', gzip.compress(body, mtime=0), body


def _wmi(pattern: str) -> str:
    """Return the manufacturer code by which a pattern is found; '' if its first characters vary."""
    return pattern[:3] if pattern[:3].isalnum() else ""


def _padded(words: Iterable[str]) -> str:
    """Join words so that each can be found with a blank on either side."""
    return "".join(f" {word} " for word in words)
