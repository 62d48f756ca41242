"""All SQL of documents and revisions."""

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session, col, select

from snapline_service.access.tables import GroupRow
from snapline_service.catalogue.tables import DocumentRow, DraftChangeRow, EntryRow, OriginRow, RevisionRow
from snapline_service.database import LARGEST_INTEGER

_BATCH = 500
T = TypeVar("T")


class Entry(Struct, frozen=True):
    """What a name stands for in a revision, and since when."""

    kind: str
    name: str
    hash: str
    since: int


def lock_group(session: Session, group_id: str) -> None:
    """Let only one publication of a group run at a time (SQLite has one writer anyway)."""
    session.exec(select(GroupRow.id).where(GroupRow.id == group_id).with_for_update())


def newest_revision(session: Session, group_id: str) -> RevisionRow | None:
    """Return the revision in force."""
    query = select(RevisionRow).where(RevisionRow.group_id == group_id)
    return session.exec(query.order_by(col(RevisionRow.number).desc()).limit(1)).first()


def revision(session: Session, group_id: str, number: int) -> RevisionRow | None:
    """Return one revision."""
    return session.get(RevisionRow, (group_id, number)) if 0 < number <= LARGEST_INTEGER else None


def origin(session: Session, group_id: str, number: int) -> OriginRow | None:
    """Return how a revision came about."""
    return session.get(OriginRow, (group_id, number))


def revisions(
    session: Session, group_id: str, before: int | None, limit: int
) -> list[tuple[RevisionRow, OriginRow | None]]:
    """Return revisions with their origins, newest first, those before a number."""
    query = (
        select(RevisionRow, OriginRow)
        .outerjoin(
            OriginRow,
            sa.and_(
                col(OriginRow.group_id) == RevisionRow.group_id, col(OriginRow.number) == RevisionRow.number
            ),
        )
        .where(RevisionRow.group_id == group_id)
    )
    if before is not None:
        query = query.where(RevisionRow.number < before)
    return list(session.exec(query.order_by(col(RevisionRow.number).desc()).limit(limit)))


def entries(session: Session, group_id: str, number: int, kind: str | None = None) -> Iterator[Entry]:
    """Yield the entries of a revision, ordered by kind and name whatever the database's collation is."""
    query = select(EntryRow.kind, EntryRow.name, EntryRow.hash, EntryRow.from_revision).where(
        EntryRow.group_id == group_id,
        EntryRow.from_revision <= number,
        sa.or_(col(EntryRow.until_revision).is_(None), col(EntryRow.until_revision) > number),
    )
    if kind:
        query = query.where(EntryRow.kind == kind)
    for row in sorted(session.exec(query)):
        yield Entry(*row)


def entry(session: Session, group_id: str, number: int, kind: str, name: str) -> Entry | None:
    """Return what a name stands for in a revision."""
    query = select(EntryRow.hash, EntryRow.from_revision).where(
        EntryRow.group_id == group_id,
        EntryRow.kind == kind,
        EntryRow.name == name,
        EntryRow.from_revision <= number,
        sa.or_(col(EntryRow.until_revision).is_(None), col(EntryRow.until_revision) > number),
    )
    found = session.exec(query).first()
    return Entry(kind, name, *found) if found else None


def between(
    session: Session, group_id: str, older: int, newer: int
) -> tuple[list[Entry], list[tuple[str, str]]]:
    """Return the entries of the newer revision that the older one lacks, and the names that only it has."""
    begun = select(EntryRow.kind, EntryRow.name, EntryRow.hash, EntryRow.from_revision).where(
        EntryRow.group_id == group_id,
        EntryRow.from_revision > older,
        EntryRow.from_revision <= newer,
        sa.or_(col(EntryRow.until_revision).is_(None), col(EntryRow.until_revision) > newer),
    )
    ended = select(EntryRow.kind, EntryRow.name).where(
        EntryRow.group_id == group_id,
        EntryRow.from_revision <= older,
        col(EntryRow.until_revision) > older,
        col(EntryRow.until_revision) <= newer,
    )
    changed = [Entry(*row) for row in session.exec(begun)]
    gone = {(kind, name) for kind, name in session.exec(ended)} - {(e.kind, e.name) for e in changed}
    return changed, sorted(gone)


def names_between(session: Session, group_id: str, older: int, newer: int) -> list[tuple[str, str]]:
    """Return kind and name of all that was added, changed or retired from one revision to a newer one."""
    changed, gone = between(session, group_id, older, newer)
    return sorted({(entry.kind, entry.name) for entry in changed} | set(gone))


def bodies(session: Session, group_id: str, hashes: Iterable[str]) -> Iterator[tuple[str, bytes]]:
    """Yield documents by hash, in the order of the hashes."""
    for batch in _batches(hashes):
        query = select(DocumentRow.hash, DocumentRow.body)
        query = query.where(DocumentRow.group_id == group_id, col(DocumentRow.hash).in_(batch))
        found = dict(session.exec(query).all())
        yield from ((name, found[name]) for name in batch)


def add_documents(session: Session, group_id: str, documents: Iterable[tuple[str, bytes]]) -> None:
    """Store documents by hash; those already there stay as they are."""
    insert_new(session, DocumentRow, ({"group_id": group_id, "hash": h, "body": b} for h, b in documents))


def apply_changes(session: Session, draft_id: str, group_id: str, number: int) -> None:
    """Make a draft's changes the entries of a revision that is not published yet."""
    change, entry = DraftChangeRow, EntryRow
    names = sa.select(col(change.kind), col(change.name)).where(col(change.draft_id) == draft_id)
    session.exec(
        sa.update(entry)
        .where(
            col(entry.group_id) == group_id,
            sa.tuple_(col(entry.kind), col(entry.name)).in_(names),
            # Said so that no index serves it: the few changes lead to their entries by key.
            sa.func.coalesce(entry.until_revision, 0) == 0,
        )
        .values(until_revision=number)
        .execution_options(synchronize_session=False)
    )
    fresh = sa.select(
        sa.literal(group_id), col(change.kind), col(change.name), sa.literal(number), col(change.hash)
    ).where(col(change.draft_id) == draft_id, col(change.hash).is_not(None))
    columns = ["group_id", "kind", "name", "from_revision", "hash"]
    session.exec(sa.insert(entry).from_select(columns, fresh))


def insert_new(session: Session, table: type, rows: Iterable[Mapping[str, object]]) -> None:
    """Insert rows; those that are there already stay as they are."""
    statement = sa.insert(table).prefix_with("OR IGNORE", dialect="sqlite")
    if session.get_bind().dialect.name == "postgresql":
        from sqlalchemy.dialects.postgresql import insert  # noqa: PLC0415 - only where it is spoken

        statement = insert(table).on_conflict_do_nothing()
    for batch in _batches(rows):
        session.connection().execute(statement, batch)


def _batches(items: Iterable[T]) -> Iterator[list[T]]:
    batch: list[T] = []
    for item in items:
        batch.append(item)
        if len(batch) == _BATCH:
            yield batch
            batch = []
    if batch:
        yield batch
