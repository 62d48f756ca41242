"""All SQL of drafts and their review."""

from collections.abc import Iterable

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session, col, func, select

from snapline_service.access.tables import HolderRow, KeyRow
from snapline_service.catalogue import store
from snapline_service.catalogue.tables import (
    AcknowledgementRow,
    ConflictRow,
    DraftChangeRow,
    DraftRow,
    EditorRow,
    RemarkRow,
)
from snapline_service.database import LARGEST_INTEGER, now

OPEN = ("draft", "in_review")


class Change(Struct, frozen=True):
    """A name's new document in a draft; None retires it."""

    kind: str
    name: str
    hash: str | None


def find(session: Session, group_id: str, draft_id: str, *, to_change: bool = False) -> DraftRow | None:
    """Return a draft of the group. ``to_change`` makes others who want to change it wait."""
    query = select(DraftRow).where(DraftRow.group_id == group_id, DraftRow.id == draft_id)
    return session.exec(query.with_for_update() if to_change else query).first()


def open_ones(session: Session, group_id: str) -> list[DraftRow]:
    """Return the group's drafts that are neither published nor dropped, newest first."""
    query = select(DraftRow).where(DraftRow.group_id == group_id, col(DraftRow.state).in_(OPEN))
    return list(session.exec(query.order_by(col(DraftRow.id).desc())))


def listing(
    session: Session, group_id: str, state: str | None, before: str | None, limit: int
) -> list[DraftRow]:
    """Return drafts, newest first, those before an id."""
    query = select(DraftRow).where(DraftRow.group_id == group_id)
    if state:
        query = query.where(DraftRow.state == state)
    if before is not None:
        query = query.where(DraftRow.id < before)
    return list(session.exec(query.order_by(col(DraftRow.id).desc()).limit(limit)))


def add_changes(session: Session, draft: DraftRow, changes: Iterable[Change], by: str, at: str) -> None:
    """Record changes in a draft that has none of these names yet."""
    rows = (
        {
            "draft_id": draft.id,
            "group_id": draft.group_id,
            "kind": c.kind,
            "name": c.name,
            "hash": c.hash,
            "changed_at": at,
            "changed_by": by,
        }
        for c in changes
    )
    store.insert_new(session, DraftChangeRow, rows)


def change(session: Session, draft_id: str, kind: str, name: str) -> DraftChangeRow | None:
    """Return what a draft does with a name."""
    return session.get(DraftChangeRow, (draft_id, kind, name))


def changes(
    session: Session, draft_id: str, after: tuple[str, str] | None = None, limit: int | None = None
) -> list[DraftChangeRow]:
    """Return what a draft changes, ordered by kind and name whatever the database's collation is."""
    query = select(DraftChangeRow).where(DraftChangeRow.draft_id == draft_id)
    rows = sorted(session.exec(query), key=lambda row: (row.kind, row.name))
    if after is not None:
        rows = [row for row in rows if (row.kind, row.name) > after]
    return rows[:limit]


def count_changes(session: Session, draft_id: str) -> int:
    """Return how many names a draft changes."""
    query = select(func.count()).select_from(DraftChangeRow)
    return session.exec(query.where(DraftChangeRow.draft_id == draft_id)).one()


def editors(session: Session, draft_id: str) -> list[EditorRow]:
    """Return who changed something in a draft, by name."""
    query = select(EditorRow).where(EditorRow.draft_id == draft_id)
    return sorted(session.exec(query), key=lambda row: (row.name, row.holder_id))


def conflict(session: Session, draft_id: str, number: int) -> ConflictRow | None:
    """Return one conflict of a draft."""
    return session.get(ConflictRow, (draft_id, number)) if 0 < number <= LARGEST_INTEGER else None


def conflicts(session: Session, draft_id: str, *, still_open: bool = False) -> list[ConflictRow]:
    """Return a draft's conflicts by number."""
    query = select(ConflictRow).where(ConflictRow.draft_id == draft_id)
    if still_open:
        query = query.where(col(ConflictRow.taken).is_(None))
    return list(session.exec(query.order_by(col(ConflictRow.number))))


def remarks(session: Session, draft_id: str) -> list[RemarkRow]:
    """Return what was said of a draft, in order."""
    query = select(RemarkRow).where(RemarkRow.draft_id == draft_id)
    return list(session.exec(query.order_by(col(RemarkRow.number))))


def add_remark(session: Session, draft_id: str, by: str, act: str, text: str = "") -> RemarkRow:
    """Write down what somebody said or did; whoever holds the draft's row numbers it alone."""
    query = select(func.coalesce(func.max(RemarkRow.number), 0)).where(RemarkRow.draft_id == draft_id)
    number = session.exec(query).one() + 1
    row = RemarkRow(draft_id=draft_id, number=number, at=now(), by=by, act=act, text=text)
    session.add(row)
    session.flush()
    return row


def acknowledgements(session: Session, draft_id: str) -> list[AcknowledgementRow]:
    """Return the warnings that somebody took note of."""
    query = select(AcknowledgementRow).where(AcknowledgementRow.draft_id == draft_id)
    return list(session.exec(query.order_by(col(AcknowledgementRow.finding))))


def holders_with(session: Session, group_id: str, scopes: Iterable[str], at: str) -> set[str]:
    """Return the holders of the group who have, at a time, a valid key with one of the scopes."""
    query = (
        select(HolderRow.id, KeyRow.scopes)
        .join(KeyRow, col(KeyRow.holder_id) == HolderRow.id)
        .where(
            HolderRow.group_id == group_id,
            col(KeyRow.revoked_at).is_(None),
            sa.or_(col(KeyRow.expires_at).is_(None), col(KeyRow.expires_at) > at),
        )
    )
    wanted = set(scopes)
    return {holder for holder, words in session.exec(query) if wanted & set(words.split())}
