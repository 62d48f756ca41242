"""Begin, edit and drop drafts, within one transaction."""

from collections.abc import Iterable

import msgspec
from sqlmodel import Session

from snapline.wire.drafts import Draft
from snapline_service.access.people import Person
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.documents import content_hash
from snapline_service.catalogue.draft_store import Change
from snapline_service.catalogue.tables import DraftChangeRow, DraftRow, EditorRow
from snapline_service.catalogue.telling import tell
from snapline_service.database import new_id, now
from snapline_service.errors import Conflict, NotFound


def begin(
    session: Session, group_id: str, person: Person, note: str = "", restores: int | None = None
) -> DraftRow:
    """Begin a draft on top of the revision in force."""
    newest = store.newest_revision(session, group_id)
    began = now()
    draft = DraftRow(
        id=new_id("dft"),
        group_id=group_id,
        base_revision=newest.number if newest else 0,
        created_at=began,
        created_by=person.name,
        published_as=None,
        note=note,
        updated_at=began,
        restores=restores,
    )
    session.add(draft)
    session.flush()
    tell(session, draft, person, "draft.created")
    return draft


def found(session: Session, group_id: str, draft_id: str, *, to_change: bool = False) -> DraftRow:
    """Return a draft. Raises NotFound."""
    row = draft_store.find(session, group_id, draft_id, to_change=to_change)
    if row is None:
        message = f"There is nothing called '{draft_id[:80]}' here."
        raise NotFound(message, mend="List what there is with GET /v1/drafts.")
    return row


def newest_open(session: Session, group_id: str) -> DraftRow:
    """Return the newest open draft, which is enough to read one. Raises NotFound."""
    for row in draft_store.open_ones(session, group_id):
        return row
    raise NotFound("There is no open draft.", mend="Begin one: snapline catalogue import, or over HTTP.")


def only_open(session: Session, group_id: str) -> DraftRow:
    """Return the open draft that can be meant without a name. Raises NotFound, Conflict if there are more.

    Whoever changes something must not hit a draft that somebody else began a moment ago.
    """
    newest = newest_open(session, group_id)
    rows = draft_store.open_ones(session, group_id)
    if len(rows) > 1:
        detail = "Several drafts are open:\n" + "".join(f"  {told(session, row)}\n" for row in rows)
        raise Conflict(detail, mend="Give the id of the one that is meant.")
    return newest


def told(session: Session, draft: DraftRow) -> str:
    """Return what tells a draft from others: its id, its note, who edited it."""
    editors = ", ".join(row.name for row in draft_store.editors(session, draft.id)) or "nobody"
    return f"{draft.id} ({draft.note or 'no note'}; edited by {editors})"


def shown(session: Session, draft: DraftRow) -> Draft:
    """Return a draft as answers give it."""
    fields = {name: getattr(draft, name) for name in Draft.__struct_fields__ if hasattr(draft, name)}
    return Draft(
        **fields,
        editors=tuple(row.name for row in draft_store.editors(session, draft.id)),
        changes=draft_store.count_changes(session, draft.id),
        open_conflicts=len(draft_store.conflicts(session, draft.id, still_open=True)),
    )


def document(session: Session, draft: DraftRow, kind: str, name: str) -> bytes | None:
    """Return what a name stands for in a draft, as canonical bytes."""
    change = draft_store.change(session, draft.id, kind, name)
    digest = change.hash if change else base_hash(session, draft, kind, name)
    return body_of(session, draft.group_id, digest)


def base_hash(session: Session, draft: DraftRow, kind: str, name: str) -> str | None:
    """Return what a name stands for in the revision that a draft builds on."""
    entry = store.entry(session, draft.group_id, draft.base_revision, kind, name)
    return entry.hash if entry else None


def body_of(session: Session, group_id: str, digest: str | None) -> bytes | None:
    """Return a document by its hash."""
    return next(body for _, body in store.bodies(session, group_id, [digest])) if digest else None


def put(
    session: Session, draft: DraftRow, person: Person, *, kind: str, name: str, body: bytes | None
) -> None:
    """Give a name another document in a draft, or None to retire it; what the base says already is no change.

    Raises Conflict if the draft is closed.
    """
    edited(session, draft, person)
    digest = content_hash(body) if body is not None else None
    change = draft_store.change(session, draft.id, kind, name)
    if body is not None and digest is not None:
        store.add_documents(session, draft.group_id, [(digest, body)])
    if digest == base_hash(session, draft, kind, name):
        if change:
            session.delete(change)
    else:
        row = change or DraftChangeRow(
            draft_id=draft.id, kind=kind, name=name, group_id=draft.group_id, hash=None
        )
        row.hash, row.changed_at, row.changed_by = digest, now(), person.name
        session.add(row)
    session.flush()


def put_many(session: Session, draft: DraftRow, person: Person, changes: Iterable[Change]) -> None:
    """Fill a new draft with changes whose documents are stored already."""
    edited(session, draft, person)
    draft_store.add_changes(session, draft, changes, person.name, now())


def edited(session: Session, draft: DraftRow, person: Person) -> None:
    """Note that somebody edits a draft: in review it goes back, and approvals are void."""
    reopen(session, draft, person)
    if session.get(EditorRow, (draft.id, person.holder_id)) is None:
        session.add(EditorRow(draft_id=draft.id, holder_id=person.holder_id, name=person.name))
    tell(session, draft, person, "draft.changed")
    touch(session, draft)


def reopen(session: Session, draft: DraftRow, person: Person) -> None:
    """Take a draft back out of review before it changes. Raises Conflict if it is closed."""
    require_open(draft)
    if draft.state == "in_review":
        draft.state = "draft"
        draft_store.add_remark(session, draft.id, person.name, "reopened")
    draft.submitted_by = draft.approver = draft.approved_by = None


def require_open(draft: DraftRow) -> None:
    """Raise Conflict if a draft is published or dropped."""
    if draft.state not in draft_store.OPEN:
        detail = f"This draft is {draft.state}"
        detail += f" as revision {draft.published_as}." if draft.published_as else "."
        raise Conflict(detail, mend="Begin another draft.")


def touch(session: Session, draft: DraftRow) -> None:
    """Count a change of a draft, so that its ETag is another."""
    draft.version += 1
    draft.updated_at = now()
    session.add(draft)
    session.flush()


def annotate(session: Session, draft: DraftRow, note: str) -> None:
    """Give an open draft another note. Raises Conflict."""
    require_open(draft)
    draft.note = note
    touch(session, draft)


def drop(session: Session, draft: DraftRow, person: Person) -> None:
    """Give a draft up; it stays readable. Raises Conflict."""
    require_open(draft)
    draft.state = "dropped"
    draft_store.add_remark(session, draft.id, person.name, "dropped")
    tell(session, draft, person, "draft.dropped")
    touch(session, draft)


def restore(session: Session, group_id: str, person: Person, number: int, note: str) -> DraftRow:
    """Begin a draft that brings back the content of an older revision. Raises NotFound, Conflict."""
    newest = store.newest_revision(session, group_id)
    if newest is None or store.revision(session, group_id, number) is None:
        message = f"There is no revision {number}."
        raise NotFound(message, mend="List what there is with GET /v1/revisions.")
    draft = begin(session, group_id, person, note or f"restores revision {number}", restores=number)
    changes = [
        Change(kind, name, entry.hash if entry else None)
        for kind, name in store.names_between(session, group_id, number, newest.number)
        for entry in [store.entry(session, group_id, number, kind, name)]
        if (entry.hash if entry else None) != base_hash(session, draft, kind, name)
    ]
    if not changes:
        message = f"Revision {number} says what the revision in force says."
        raise Conflict(message, mend="Name another revision.")
    put_many(session, draft, person, changes)
    return draft


def json_of(body: bytes | None) -> object:
    """Return a document's JSON value; None if there is none."""
    return msgspec.json.decode(body) if body is not None else None
