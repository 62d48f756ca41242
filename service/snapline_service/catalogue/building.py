"""Build a revision file: every answer prepared, every index in place."""

import gzip
import hashlib
import os
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline.offline import FORMAT, sort_words
from snapline.wire.catalogue import FixtureDocument, OperationDocument, SourceDocument, VehicleDocument
from snapline.wire.common import Caution, Source
from snapline.wire.fixtures import Fixture, FixtureSummary, FixtureVehicle, Use
from snapline.wire.vehicles import Vehicle
from snapline_service import cautions
from snapline_service.catalogue import store
from snapline_service.catalogue.quoting import quoted_sources
from snapline_service.catalogue.store import Entry
from snapline_service.fixtures.matching import Shelf
from snapline_service.fixtures.reverse import needs_of_all, uses
from snapline_service.vehicles.summary import vehicle_summary

NO_LAST_YEAR = 9999
Progress = Callable[[int, int], None]
SortKey = tuple[str, str, int, str]
Document = TypeVar("Document", SourceDocument, OperationDocument, FixtureDocument)

_SCHEMA = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT) WITHOUT ROWID;
CREATE TABLE vehicles (
    rank INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, make_key TEXT, model_key TEXT, year_first INTEGER,
    etag TEXT, body BLOB, gzip BLOB
);
CREATE TABLE vehicle_list (
    kind TEXT, make_key TEXT, model_key TEXT, year_first INTEGER, id TEXT, year_last INTEGER, markets TEXT,
    summary BLOB, PRIMARY KEY (kind, make_key, model_key, year_first, id)
) WITHOUT ROWID;
CREATE VIRTUAL TABLE vehicle_text USING fts5(text, content='', prefix='2 3');
CREATE TABLE vin_patterns (wmi TEXT, pattern TEXT, vehicle_id TEXT, PRIMARY KEY (wmi, pattern, vehicle_id))
    WITHOUT ROWID;
CREATE TABLE fixtures (
    id TEXT PRIMARY KEY, fixture_kind TEXT, capabilities TEXT, summary BLOB, etag TEXT, body BLOB, gzip BLOB
);
CREATE TABLE fixture_vehicles (
    fixture_id TEXT, basis TEXT, kind TEXT, make_key TEXT, model_key TEXT, year_first INTEGER,
    vehicle_id TEXT, year_last INTEGER, item BLOB,
    PRIMARY KEY (fixture_id, basis, kind, make_key, model_key, year_first, vehicle_id)
) WITHOUT ROWID;
CREATE TABLE sources (id TEXT PRIMARY KEY, body BLOB) WITHOUT ROWID;
CREATE TABLE operations (id TEXT PRIMARY KEY, body BLOB) WITHOUT ROWID;
"""
_INDEX = "CREATE UNIQUE INDEX vehicle_order ON vehicles (make_key, model_key, year_first, id)"


class _Heading(Struct, frozen=True):
    """The part of a vehicle document that decides its place in the list."""

    id: str
    make: str
    model: str
    model_year_first: int


def build(
    session: Session, group_id: str, number: int, path: Path, progress: Progress = lambda _done, _all: None
) -> str:
    """Write a revision's file beside its place, move it there, and return the manifest hash."""
    beside = path.with_suffix(f".{os.getpid()}.building")
    beside.unlink(missing_ok=True)
    connection = sqlite3.connect(beside, isolation_level=None)
    try:
        connection.executescript(
            "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA page_size = 8192;"
        )
        connection.executescript(_SCHEMA)
        connection.execute("BEGIN")
        manifest = _write(_Catalogue(session, group_id, number, connection), number, progress)
        connection.execute(_INDEX)
        connection.execute("COMMIT")
        connection.close()
        with beside.open("rb+") as file:
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        connection.close()
        beside.unlink(missing_ok=True)
    return manifest


class _Catalogue:
    """The parts of a revision that vehicles refer to, and the file being written."""

    def __init__(self, session: Session, group_id: str, number: int, file: sqlite3.Connection) -> None:
        self.file = file
        self._session = session
        self._group_id = group_id
        self.entries = list(store.entries(session, group_id, number))
        self.since = {(entry.kind, entry.name): entry.since for entry in self.entries}
        self.sources = {source.id: source for source in self._all(SourceDocument)}
        self.operations = self._all(OperationDocument)
        self.fixtures = self._all(FixtureDocument)
        self.shelf = Shelf(self.fixtures)

    def hashes(self, kind: str) -> list[str]:
        return [entry.hash for entry in self.entries if entry.kind == kind]

    def bodies(self, hashes: Iterable[str]) -> Iterator[bytes]:
        return (body for _, body in store.bodies(self._session, self._group_id, hashes))

    def changed_in(self, kind: str, name: str, sources: Iterable[Source]) -> int:
        """Return the revision in which a document, or a source that its answer quotes, last changed."""
        quoted = [self.since["source", source.id] for source in sources]
        return max([self.since[kind, name], *quoted])

    def quoted(self, document: Struct) -> tuple[Source, ...]:
        """Return the sources that a document refers to."""
        names = sorted(quoted_sources(document))
        return tuple(msgspec.convert(self.sources[n], Source, from_attributes=True) for n in names)

    def _all(self, document_type: type[Document]) -> list[Document]:
        kind = str(document_type.__struct_config__.tag)
        return [msgspec.json.decode(body, type=document_type) for body in self.bodies(self.hashes(kind))]


def manifest_hash(entries: Iterable[Entry]) -> str:
    """Return one hash over the names and document hashes of a revision; equal content has equal hashes."""
    lines = sorted(f"{entry.kind} {entry.name} {entry.hash}\n" for entry in entries)
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def _write(catalogue: _Catalogue, number: int, progress: Progress) -> str:
    manifest = manifest_hash(catalogue.entries)
    meta = {"format": FORMAT, "revision": str(number), "manifest_hash": manifest}
    catalogue.file.executemany("INSERT INTO meta VALUES (?, ?)", meta.items())
    for table, documents in (
        ("sources", catalogue.sources.values()),
        ("operations", catalogue.operations),
    ):
        rows = ((document.id, msgspec.json.encode(document)) for document in documents)
        catalogue.file.executemany(f"INSERT INTO {table} VALUES (?, ?)", rows)  # noqa: S608 - fixed names
    for fixture in catalogue.fixtures:
        _add_fixture(catalogue, fixture)
    hashes = catalogue.hashes("vehicle")
    ordered = sorted(_headings(catalogue, hashes))
    for rank, body in enumerate(catalogue.bodies(name for _, name in ordered), 1):
        _add_vehicle(catalogue, rank, msgspec.json.decode(body, type=VehicleDocument))
        progress(rank, len(ordered))
    return manifest


def _headings(catalogue: _Catalogue, hashes: list[str]) -> Iterator[tuple[SortKey, str]]:
    decoder = msgspec.json.Decoder(_Heading)
    for name, body in zip(hashes, catalogue.bodies(hashes), strict=True):
        heading = decoder.decode(body)
        yield _sort_key(heading), name


def _sort_key(vehicle: _Heading | VehicleDocument) -> SortKey:
    return sort_words(vehicle.make), sort_words(vehicle.model), vehicle.model_year_first, vehicle.id


def _add_fixture(catalogue: _Catalogue, fixture: FixtureDocument) -> None:
    sources = catalogue.quoted(fixture)
    changed_in = catalogue.changed_in("fixture", fixture.id, sources)
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
    catalogue.file.execute("INSERT INTO fixtures VALUES (?, ?, ?, ?, ?, ?, ?)", row + _prepared(answer))


def _add_vehicle(catalogue: _Catalogue, rank: int, vehicle: VehicleDocument) -> None:
    file, key = catalogue.file, _sort_key(vehicle)
    sources = catalogue.quoted(vehicle)
    changed_in = catalogue.changed_in("vehicle", vehicle.id, sources)
    answer = Vehicle(
        **msgspec.structs.asdict(vehicle),
        changed_in_revision=changed_in,
        sources=sources,
        cautions=_vehicle_cautions(catalogue, vehicle),
    )
    row = (rank, vehicle.id, *key[:3], *_prepared(answer))
    file.execute("INSERT INTO vehicles VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row)
    summary = vehicle_summary(vehicle, changed_in)
    tail = (vehicle.model_year_last or NO_LAST_YEAR, _padded(vehicle.markets), msgspec.json.encode(summary))
    kinds = ["", *sorted({system.kind for system in vehicle.systems})]
    rows = ((kind, *key, *tail) for kind in kinds)
    file.executemany("INSERT INTO vehicle_list VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
    file.execute("INSERT INTO vehicle_text (rowid, text) VALUES (?, ?)", (rank, _searchable(vehicle)))
    patterns = ((_wmi(p.pattern), p.pattern, vehicle.id) for p in vehicle.vin_patterns)
    file.executemany("INSERT OR IGNORE INTO vin_patterns VALUES (?, ?, ?)", patterns)
    _add_uses(catalogue, vehicle, key)


def _add_uses(catalogue: _Catalogue, vehicle: VehicleDocument, key: SortKey) -> None:
    """Write the reverse look-up's rows: all uses together, and those of each kind of system by themselves."""
    rows: dict[tuple[str, str, str], list[Use]] = defaultdict(list)
    for found in uses(vehicle, catalogue.shelf):
        basis = "by_property" if found.use.match == "by_property" else "stated"
        for kind in ("", found.use.system_kind):
            rows[found.fixture_id, basis, kind].append(found.use)
    year_last = vehicle.model_year_last or NO_LAST_YEAR
    catalogue.file.executemany(
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


def _vehicle_cautions(catalogue: _Catalogue, vehicle: VehicleDocument) -> tuple[Caution, ...]:
    kinds = catalogue.shelf.kinds(needs_of_all(vehicle.procedures))
    return cautions.for_work(vehicle.procedures, {system.kind for system in vehicle.systems}, kinds)


def _prepared(answer: Struct) -> tuple[str, bytes, bytes]:
    body = msgspec.json.encode(answer)
    return hashlib.sha256(body).hexdigest()[:32], body, gzip.compress(body, mtime=0)


def _searchable(vehicle: VehicleDocument) -> str:
    words = [vehicle.make, vehicle.model, vehicle.body, vehicle.id.replace("-", " ")]
    words += [f"{system.name} {system.kind.replace('_', ' ')}" for system in vehicle.systems]
    return " ".join(words)


def _wmi(pattern: str) -> str:
    """Return the manufacturer code by which a pattern is found; '' if its first characters vary."""
    return pattern[:3] if pattern[:3].isalnum() else ""


def _padded(words: Iterable[str]) -> str:
    """Join words so that each can be found with a blank on either side."""
    return "".join(f" {word} " for word in words)
