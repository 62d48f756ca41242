"""All SQL of documents, drafts and revisions."""

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session, col, func, select

from snapline_service.access.tables import GroupRow
from snapline_service.catalogue.tables import (
    DocumentRow,
    DraftChangeRow,
    DraftRow,
    EntryRow,
    RevisionRow,
)

_BATCH = 500
T = TypeVar("T")


class Entry(Struct, frozen=True):
    """What a name stands for in a revision, and since when."""

    kind: str
    name: str
    hash: str
    since: int


class Change(Struct, frozen=True):
    """A name's new document in a draft; None retires it."""

    kind: str
    name: str
    hash: str | None


def lock_group(session: Session, group_id: str) -> None:
    """Let only one publication of a group run at a time (SQLite has one writer anyway)."""
    session.exec(select(GroupRow.id).where(GroupRow.id == group_id).with_for_update())


def newest_revision(session: Session, group_id: str) -> RevisionRow | None:
    """Return the revision in force."""
    query = select(RevisionRow).where(RevisionRow.group_id == group_id)
    return session.exec(query.order_by(col(RevisionRow.number).desc()).limit(1)).first()


def revision(session: Session, group_id: str, number: int) -> RevisionRow | None:
    """Return one revision."""
    return session.get(RevisionRow, (group_id, number))


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


def bodies(session: Session, group_id: str, hashes: Iterable[str]) -> Iterator[tuple[str, bytes]]:
    """Yield documents by hash, in the order of the hashes."""
    for batch in _batches(hashes):
        query = select(DocumentRow.hash, DocumentRow.body)
        query = query.where(DocumentRow.group_id == group_id, col(DocumentRow.hash).in_(batch))
        found = dict(session.exec(query).all())
        yield from ((name, found[name]) for name in batch)


def add_documents(session: Session, group_id: str, documents: Iterable[tuple[str, bytes]]) -> None:
    """Store documents by hash; those already there stay as they are."""
    _insert_new(session, DocumentRow, ({"group_id": group_id, "hash": h, "body": b} for h, b in documents))


def add_changes(session: Session, draft: DraftRow, changes: Iterable[Change]) -> None:
    """Record changes in a draft."""
    rows = (
        {"draft_id": draft.id, "group_id": draft.group_id, "kind": c.kind, "name": c.name, "hash": c.hash}
        for c in changes
    )
    _insert_new(session, DraftChangeRow, rows)


def draft(session: Session, group_id: str, draft_id: str) -> DraftRow | None:
    """Return a draft of the group."""
    query = select(DraftRow).where(DraftRow.group_id == group_id, DraftRow.id == draft_id)
    return session.exec(query).first()


def newest_open_draft(session: Session, group_id: str) -> DraftRow | None:
    """Return the group's newest draft that is not published."""
    query = select(DraftRow).where(DraftRow.group_id == group_id, col(DraftRow.published_as).is_(None))
    return session.exec(query.order_by(col(DraftRow.id).desc()).limit(1)).first()


def apply_changes(session: Session, draft_id: str, group_id: str, number: int) -> None:
    """Make a draft's changes the entries of a revision that is not published yet."""
    change, entry = DraftChangeRow, EntryRow
    session.exec(
        sa.update(entry)
        .where(
            col(entry.group_id) == group_id,
            col(entry.until_revision).is_(None),
            sa.exists().where(
                col(change.draft_id) == draft_id,
                col(change.kind) == entry.kind,
                col(change.name) == entry.name,
            ),
        )
        .values(until_revision=number)
    )
    fresh = sa.select(
        sa.literal(group_id), col(change.kind), col(change.name), sa.literal(number), col(change.hash)
    ).where(col(change.draft_id) == draft_id, col(change.hash).is_not(None))
    columns = ["group_id", "kind", "name", "from_revision", "hash"]
    session.exec(sa.insert(entry).from_select(columns, fresh))


def count_entries(session: Session, group_id: str, number: int) -> int:
    """Return how many entries a revision has."""
    query = (
        select(func.count())
        .select_from(EntryRow)
        .where(
            EntryRow.group_id == group_id,
            EntryRow.from_revision <= number,
            sa.or_(col(EntryRow.until_revision).is_(None), col(EntryRow.until_revision) > number),
        )
    )
    return session.exec(query).one()


def _insert_new(session: Session, table: type, rows: Iterable[Mapping[str, object]]) -> None:
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
