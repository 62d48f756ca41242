"""Build a revision file: a whole one, or where little differs from the last, a supplement to a whole one."""

import os
import secrets
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline.offline import FORMAT, sort_words
from snapline.wire.catalogue import FixtureDocument, OperationDocument, SourceDocument, VehicleDocument
from snapline_service.catalogue import store
from snapline_service.catalogue.store import Entry
from snapline_service.fixtures.matching import Shelf
from snapline_service.revisions import filling, supplement
from snapline_service.revisions.content import Built, Plan, manifest_of, write_meta
from snapline_service.revisions.filling import Filling, SortKey

Progress = Callable[[int, int], None]
Document = TypeVar("Document", SourceDocument, OperationDocument, FixtureDocument)


class _Heading(Struct, frozen=True):
    """The part of a vehicle document that decides its place in the list."""

    id: str
    make: str
    model: str
    model_year_first: int


def beside(path: Path) -> Path:
    """Return where a file is built before it is moved to its place: a name that nobody else takes."""
    return path.with_suffix(f".{os.getpid()}.{secrets.token_hex(4)}.building")


def sweep(folder: Path) -> None:
    """Remove what builders left behind that are no longer alive."""
    for left in folder.glob("*.building"):
        if not Path(f"/proc/{left.name.split('.')[1]}").exists():
            left.unlink(missing_ok=True)


def build(
    session: Session,
    plan: Plan,
    place: Path,
    previous: Path | None = None,
    progress: Progress = lambda _done, _all: None,
) -> Built:
    """Write a revision's file to a place where nothing is yet; leaves nothing there if that fails.

    ``previous`` is the file of the revision that the plan builds on, if this machine has it.
    """
    try:
        built = supplement.build(session, plan, place, previous, progress) if previous else None
        if built is None:
            place.unlink(missing_ok=True)
            built = _build_whole(session, plan, place, progress)
        with place.open("rb+") as file:
            os.fsync(file.fileno())
    except BaseException:
        place.unlink(missing_ok=True)
        raise
    return built


def _build_whole(session: Session, plan: Plan, place: Path, progress: Progress) -> Built:
    connection = sqlite3.connect(place, isolation_level=None)
    try:
        connection.executescript(
            "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA page_size = 32768;"
        )
        connection.executescript(filling.SCHEMA)
        connection.execute("BEGIN")
        entries = _entries(session, plan)
        rows = ((e.kind, e.name, e.hash, e.since) for e in entries)
        connection.executemany("INSERT INTO entries VALUES (?, ?, ?, ?)", rows)
        built = Built(manifest_of(connection), len(entries))
        _fill(_Content(session, plan.group_id, entries), connection, progress)
        vehicles = sum(entry.kind == "vehicle" for entry in entries)
        write_meta(connection, plan.number, built, vehicles=vehicles, format=FORMAT)
        connection.execute(filling.INDEX)
        connection.execute("COMMIT")
    finally:
        connection.close()
    return built


def _entries(session: Session, plan: Plan) -> list[Entry]:
    """Return all entries of the revision, ordered by kind and name."""
    found = {(e.kind, e.name): e for e in store.entries(session, plan.group_id, plan.base_number)}
    for name in plan.retired:
        found.pop(name, None)
    found.update({(e.kind, e.name): e for e in plan.changes})
    return [found[name] for name in sorted(found)]


class _Content(Struct):
    """The documents of a revision, in the database."""

    session: Session
    group_id: str
    entries: list[Entry]

    def hashes(self, kind: str) -> list[str]:
        return [entry.hash for entry in self.entries if entry.kind == kind]

    def bodies(self, hashes: Iterable[str]) -> Iterator[bytes]:
        return (body for _, body in store.bodies(self.session, self.group_id, hashes))

    def all(self, document_type: type[Document]) -> list[Document]:
        kind = str(document_type.__struct_config__.tag)
        return [msgspec.json.decode(body, type=document_type) for body in self.bodies(self.hashes(kind))]


def _fill(content: _Content, file: sqlite3.Connection, progress: Progress) -> None:
    sources, fixtures = content.all(SourceDocument), content.all(FixtureDocument)
    filled = Filling(
        file=file,
        since={(entry.kind, entry.name): entry.since for entry in content.entries},
        sources={source.id: source for source in sources},
        shelf=Shelf(fixtures),
        grounds={},
    )
    for source in sources:
        filling.add_small(file, source)
    for operation in content.all(OperationDocument):
        filling.add_small(file, operation)
    for fixture in fixtures:
        filling.add_fixture(filled, fixture)
    ordered = sorted(_headings(content, content.hashes("vehicle")))
    for rank, body in enumerate(content.bodies(name for _, name in ordered), 1):
        filling.add_vehicle(filled, rank, msgspec.json.decode(body, type=VehicleDocument))
        progress(rank, len(ordered))


def _headings(content: _Content, hashes: list[str]) -> Iterator[tuple[SortKey, str]]:
    decoder = msgspec.json.Decoder(_Heading)
    for name, body in zip(hashes, content.bodies(hashes), strict=True):
        heading = decoder.decode(body)
        words = sort_words(heading.make), sort_words(heading.model)
        yield (*words, heading.model_year_first, heading.id), name
