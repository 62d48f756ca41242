"""Build a supplement: the revision file that holds only what differs from a whole one beside it.

Publishing ten changed vehicles must not cost what two hundred thousand do, not even copying them. A
supplement holds every vehicle whose answers differ from the whole file's: those that changed, and those that
rest on a source or fixture that did. The next one begins as a copy of the last.
"""

import shutil
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline.offline import FORMAT
from snapline.wire.catalogue import FixtureDocument, OperationDocument, SourceDocument, VehicleDocument
from snapline_service.catalogue import store
from snapline_service.fixtures.matching import RADAR_KINDS, Shelf
from snapline_service.revisions import filling
from snapline_service.revisions.content import Built, Plan, manifest_of, write_meta
from snapline_service.revisions.filling import RADAR, Filling
from snapline_service.revisions.quoting import quoted_sources

# Below so many vehicles a whole file is as quickly built; a supplement to more than so great a share of them
# would be long to copy.
SMALL = 500
SHARE = 0.05
Part = TypeVar("Part", SourceDocument, FixtureDocument)
_SMALL_TABLES = ("sources", "operations", "fixtures")
_RESTING = """
SELECT v.id FROM {0}.grounds g CROSS JOIN {0}.rests_on r ON r.ground = g.id
CROSS JOIN {0}.vehicles v ON v.rank = r.rank
WHERE g.ground = ?
"""
_NOT_OVERRIDDEN = (
    " AND NOT EXISTS (SELECT 1 FROM main.overridden o WHERE o.kind = 'vehicle' AND o.name = v.id)"
)
_DELETE_VEHICLES = """
DELETE FROM main.rests_on WHERE rank IN (SELECT rank FROM main.vehicles WHERE id IN (SELECT id FROM touched));
DELETE FROM main.vehicles WHERE id IN (SELECT id FROM touched);
DELETE FROM main.vehicle_list WHERE id IN (SELECT id FROM touched);
DELETE FROM main.vin_patterns WHERE vehicle_id IN (SELECT id FROM touched);
DELETE FROM main.fixture_vehicles WHERE vehicle_id IN (SELECT id FROM touched);
"""


class _Parts(Struct):
    """The sources and fixtures of the catalogue by name, and the grounds of answers that differ now."""

    sources: dict[str, SourceDocument]
    fixtures: dict[str, FixtureDocument]
    shaken: set[str]
    requoted: set[str]


def build(
    session: Session, plan: Plan, place: Path, previous: Path, progress: Callable[[int, int], None]
) -> Built | None:
    """Write a supplement; None if a whole file serves better, or the previous one cannot be built on."""
    meta = meta_of(previous)
    vehicles = int(meta.get("vehicles", 0))
    if meta.get("format") != FORMAT or meta.get("manifest_hash") != plan.base_manifest or vehicles < SMALL:
        return None
    whole = previous.with_name(meta.get("supplements", previous.name))
    if whole != previous:
        shutil.copyfile(previous, place)
    file = sqlite3.connect(_uri(place, ""), uri=True, isolation_level=None)
    try:
        file.executescript("PRAGMA page_size = 8192; PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;")
        file.execute("ATTACH ? AS base", (_uri(whole, "?mode=ro&immutable=1"),))
        if whole == previous:
            file.executescript(filling.SCHEMA)
            file.execute(filling.INDEX)
        file.execute("BEGIN")
        if whole == previous:
            for table in _SMALL_TABLES:
                file.execute(f"INSERT INTO main.{table} SELECT * FROM base.{table}")  # noqa: S608 - fixed names
        if manifest_of(file, supplement=True) != plan.base_manifest:
            return None
        built = _differ(
            session, plan, file, entries=int(meta["entries"]), vehicles=vehicles, progress=progress
        )
        if built:
            base_meta = dict(file.execute("SELECT key, value FROM base.meta"))
            more = {"supplements": whole.name, "base_manifest_hash": base_meta["manifest_hash"]}
            write_meta(file, plan.number, built, format=FORMAT, vehicles=vehicles, **more)
        file.execute("COMMIT")
    finally:
        file.close()
    return built


def meta_of(path: Path) -> dict[str, str]:
    """Return what a file says of itself; nothing if it is no revision file or its whole one is missing."""
    if not path.exists():
        return {}
    file = sqlite3.connect(_uri(path, "?mode=ro&immutable=1"), uri=True)
    try:
        meta = dict(file.execute("SELECT key, value FROM meta"))
    except sqlite3.DatabaseError:
        return {}
    finally:
        file.close()
    whole = path.with_name(meta.get("supplements", path.name))
    if whole != path and meta_of(whole).get("manifest_hash") != meta["base_manifest_hash"]:
        return {}
    return meta


def resting_on(file: sqlite3.Connection, grounds: Iterable[str], *, supplement: bool = True) -> set[str]:
    """Return the vehicles whose answers or references rest on one of the grounds."""
    queries = [_RESTING.format("main")]
    if supplement:
        queries.append(_RESTING.format("base") + _NOT_OVERRIDDEN)
    return {name for ground in grounds for query in queries for (name,) in file.execute(query, (ground,))}


def dependants(path: Path, grounds: Iterable[str]) -> set[str]:
    """Return the vehicles of a revision, by its file, that rest on one of the grounds."""
    whole = path.with_name(meta_of(path).get("supplements", path.name))
    file = sqlite3.connect(_uri(path, "?mode=ro&immutable=1"), uri=True)
    try:
        file.execute("ATTACH ? AS base", (_uri(whole, "?mode=ro&immutable=1"),))
        return resting_on(file, grounds, supplement=whole != path)
    finally:
        file.close()


def grounds_of_fixture(fixture: FixtureDocument | None) -> set[str]:
    """Return the grounds on which a vehicle rests that this fixture can serve."""
    if fixture is None:
        return set()
    grounds = {f"fixture {fixture.id}", *(f"capability {c.capability}" for c in fixture.capabilities)}
    return grounds | {RADAR} if fixture.fixture_kind in RADAR_KINDS else grounds


def _differ(
    session: Session,
    plan: Plan,
    file: sqlite3.Connection,
    *,
    entries: int,
    vehicles: int,
    progress: Callable[[int, int], None],
) -> Built | None:
    """Write what differs; None if that is too much for a supplement."""
    documents = dict(
        store.bodies(session, plan.group_id, [e.hash for e in plan.changes if e.kind != "vehicle"])
    )
    parts = _change_parts(plan, file, documents)
    changed = {entry.name for entry in plan.changes if entry.kind == "vehicle"}
    gone = {name for kind, name in plan.retired if kind == "vehicle"}
    touched = (changed | resting_on(file, parts.shaken)) - gone
    overridden = {name for (name,) in file.execute("SELECT name FROM main.overridden WHERE kind = 'vehicle'")}
    if len(overridden | touched | gone) > max(vehicles * SHARE, 1):
        return None
    _forget_vehicles(file, touched | gone)
    entries += _change_entries(plan, file, touched)
    filled = Filling(
        file=file,
        since=_since(file),
        sources=parts.sources,
        shelf=Shelf(parts.fixtures.values()),
        grounds={name: number for number, name in file.execute("SELECT id, ground FROM main.grounds")},
    )
    for name in sorted(parts.requoted):
        file.execute("DELETE FROM main.fixtures WHERE id = ?", (name,))
        if name in parts.fixtures:
            filling.add_fixture(filled, parts.fixtures[name])
    (last,) = file.execute("SELECT coalesce(max(rank), 0) FROM main.vehicles").fetchone()
    for count, vehicle in enumerate(_vehicles(session, plan, file, touched), 1):
        filling.add_vehicle(filled, last + count, vehicle)
        progress(count, len(touched))
    return Built(manifest_of(file, supplement=True), entries)


def _change_parts(plan: Plan, file: sqlite3.Connection, documents: dict[str, bytes]) -> _Parts:
    """Write sources and operations, and return what has become of sources and fixtures."""
    old = {f.id: f for f in _all(file, "fixtures", FixtureDocument)}
    fixtures, shaken = dict(old), set[str]()
    for kind, name in [*plan.retired, *((entry.kind, entry.name) for entry in plan.changes)]:
        if kind == "fixture":
            fixtures.pop(name, None)
        elif kind != "vehicle":
            file.execute(f"DELETE FROM main.{kind}s WHERE id = ?", (name,))  # noqa: S608 - a kind of document
        if kind == "source":
            shaken.add(f"source {name}")
    for entry in plan.changes:
        if entry.kind == "fixture":
            fixtures[entry.name] = msgspec.json.decode(documents[entry.hash], type=FixtureDocument)
        elif entry.kind == "source":
            filling.add_small(file, msgspec.json.decode(documents[entry.hash], type=SourceDocument))
        elif entry.kind == "operation":
            filling.add_small(file, msgspec.json.decode(documents[entry.hash], type=OperationDocument))
    changed = {name for kind, name in plan.retired if kind == "fixture"}
    changed |= {entry.name for entry in plan.changes if entry.kind == "fixture"}
    for name in changed:
        shaken |= grounds_of_fixture(old.get(name)) | grounds_of_fixture(fixtures.get(name))
    quoting = {f.id for f in fixtures.values() if {f"source {s}" for s in quoted_sources(f)} & shaken}
    sources = {source.id: source for source in _all(file, "sources", SourceDocument)}
    # In the order of a whole file: answers name fixtures in the order in which they stand.
    return _Parts(sources, {name: fixtures[name] for name in sorted(fixtures)}, shaken, changed | quoting)


def _all(file: sqlite3.Connection, table: str, kind: type[Part]) -> Iterator[Part]:
    """Yield documents; an answer holds its document, and what else it says is passed over."""
    for (body,) in file.execute(f"SELECT body FROM main.{table} ORDER BY id"):  # noqa: S608 - fixed names
        yield msgspec.json.decode(body, type=kind)


def _forget_vehicles(file: sqlite3.Connection, names: set[str]) -> None:
    """Remove what an earlier supplement says of vehicles."""
    file.execute("CREATE TEMP TABLE touched (id TEXT PRIMARY KEY)")
    file.executemany("INSERT INTO touched VALUES (?)", ((name,) for name in names))
    before = file.execute("SELECT rank, body FROM main.vehicles WHERE id IN (SELECT id FROM touched)")
    for rank, body in before.fetchall():
        # The text index keeps no text: it must be told what it is to forget.
        text = filling.searchable(msgspec.json.decode(body, type=VehicleDocument))
        command = "INSERT INTO main.vehicle_text (vehicle_text, rowid, text) VALUES ('delete', ?, ?)"
        file.execute(command, (rank, text))
    for statement in _DELETE_VEHICLES.strip().split("\n"):
        file.execute(statement)


def _change_entries(plan: Plan, file: sqlite3.Connection, touched: set[str]) -> int:
    """Write the entries that differ, and those of touched vehicles; return how many more there are."""
    count = "SELECT count(*) FROM ({}) WHERE kind = ? AND name = ?".format(  # noqa: S608 - fixed parts
        "SELECT kind, name FROM main.entries UNION ALL SELECT kind, name FROM base.entries e "
        "WHERE NOT EXISTS (SELECT 1 FROM main.overridden o WHERE o.kind = e.kind AND o.name = e.name)"
    )
    names = [(entry.kind, entry.name) for entry in plan.changes]
    there = {name for name in [*names, *plan.retired] if file.execute(count, name).fetchone()[0]}
    more = len(set(names) - there) - len(set(plan.retired) & there)
    unchanged = (
        "INSERT OR IGNORE INTO main.entries SELECT * FROM base.entries WHERE kind = 'vehicle' AND name = ? "
        "AND NOT EXISTS (SELECT 1 FROM main.overridden WHERE kind = 'vehicle' AND name = ?)"
    )
    file.executemany(unchanged, ((name, name) for name in touched))
    file.executemany("DELETE FROM main.entries WHERE kind = ? AND name = ?", plan.retired)
    rows = ((e.kind, e.name, e.hash, e.since) for e in plan.changes)
    file.executemany("INSERT OR REPLACE INTO main.entries VALUES (?, ?, ?, ?)", rows)
    overridden = {*names, *plan.retired, *(("vehicle", name) for name in touched)}
    file.executemany("INSERT OR IGNORE INTO main.overridden VALUES (?, ?)", overridden)
    return more


def _since(file: sqlite3.Connection) -> dict[tuple[str, str], int]:
    """Return since when sources, fixtures and the supplement's own vehicles are what they are."""
    rows = file.execute(
        "SELECT kind, name, since FROM base.entries WHERE kind IN ('fixture', 'source') "
        "UNION ALL SELECT kind, name, since FROM main.entries"
    )
    return {(kind, name): since for kind, name, since in rows}


def _vehicles(
    session: Session, plan: Plan, file: sqlite3.Connection, names: set[str]
) -> Iterator[VehicleDocument]:
    query = "SELECT hash FROM main.entries WHERE kind = 'vehicle' AND name = ?"
    hashes = [file.execute(query, (name,)).fetchone()[0] for name in sorted(names)]
    for _, body in store.bodies(session, plan.group_id, hashes):
        yield msgspec.json.decode(body, type=VehicleDocument)


def _uri(path: Path, query: str) -> str:
    return f"file:{quote(str(path.resolve()))}{query}"
