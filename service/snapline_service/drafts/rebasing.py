"""Move a draft onto the revision in force, and settle what both have changed."""

from typing import Any

import msgspec
from msgspec import UNSET
from sqlmodel import Session

from snapline_service.access.people import Person
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.documents import canonical, content_hash, from_json
from snapline_service.catalogue.tables import ConflictRow, DraftChangeRow, DraftRow
from snapline_service.catalogue.telling import tell
from snapline_service.drafts import drafts, merging
from snapline_service.drafts.merging import Clash
from snapline_service.errors import BadInput, Conflict, Fault, InvalidValue, NotFound
from snapline_service.faults import pointer


def rebase(session: Session, draft: DraftRow, person: Person) -> None:
    """Put a draft on top of the revision in force, merging field by field. Makes nobody an editor.

    Raises Conflict if there is nothing to do, or conflicts of an earlier one are still open.
    """
    newest = store.newest_revision(session, draft.group_id)
    if newest is None or newest.number == draft.base_revision:
        raise Conflict("The draft is on top of the revision in force already.", mend="Go on with it.")
    _require_settled(session, draft)
    drafts.reopen(session, draft, person)
    changed, gone = store.between(session, draft.group_id, draft.base_revision, newest.number)
    published = {(e.kind, e.name): e.hash for e in changed} | dict.fromkeys(gone)
    number = len(draft_store.conflicts(session, draft.id))
    for change in draft_store.changes(session, draft.id):
        name = (change.kind, change.name)
        if name not in published:
            continue
        for clash in _merge_one(session, draft, change, published[name]):
            number += 1
            session.add(_row(draft, number, change, clash))
    draft.base_revision = newest.number
    draft_store.add_remark(session, draft.id, person.name, "rebased", f"onto revision {newest.number}")
    tell(session, draft, person, "draft.changed")
    drafts.touch(session, draft)


def choose(session: Session, draft: DraftRow, person: Person, number: int, *, take: str, value: Any) -> None:
    """Settle a conflict: the draft's side, the published one, or another value; who chooses is an editor.

    A value of None is nothing. Raises NotFound, Conflict if it is settled already or its place is gone,
    BadInput.
    """
    _require_value_if_taken(take, value)
    row = draft_store.conflict(session, draft.id, number)
    if row is None:
        raise NotFound(f"The draft has no conflict {number}.", mend="List them with GET …/conflicts.")
    if row.taken:
        raise Conflict(f"Conflict {number} is settled already.", mend="Change the document itself.")
    drafts.require_open(draft)
    if take == "draft":
        drafts.edited(session, draft, person)
    else:
        chosen = value_of(row.published) if take == "published" else value
        body = _with(session, draft, row, chosen)
        drafts.put(session, draft, person, kind=row.kind, name=row.name, body=body)
    row.taken = take
    session.add(row)
    session.flush()


def _require_value_if_taken(take: str, value: Any) -> None:
    if take == "value" and value is UNSET:
        raise InvalidValue(
            "The value to take is missing.",
            pointer="/value",
            mend="Give it; null removes what is in dispute.",
        )
    if take != "value" and value is not UNSET:
        detail = f"A value is given, but the side '{take}' is taken."
        raise InvalidValue(detail, pointer="/value", mend="Leave it out, or take 'value'.")


def _require_settled(session: Session, draft: DraftRow) -> None:
    waiting = draft_store.conflicts(session, draft.id, still_open=True)
    if waiting:
        detail = f"The draft has open conflicts: {len(waiting)}."
        raise Conflict(detail, mend="Choose a side of each with POST …/conflicts/{number}.")


def _merge_one(
    session: Session, draft: DraftRow, change: DraftChangeRow, published: str | None
) -> list[Clash]:
    """Merge what was published into one change of the draft, and return what clashes."""
    base_hash = drafts.base_hash(session, draft, change.kind, change.name)
    base, theirs, ours = (
        drafts.json_of(drafts.body_of(session, draft.group_id, digest))
        for digest in (base_hash, published, change.hash)
    )
    merged, clashes = merging.merge(base, theirs, ours)
    document, faults = from_json(merged) if merged is not None else (None, [])
    if faults:  # each side is well formed, but not both together
        merged, clashes = ours, [Clash((), base, theirs, ours)]
    elif document is not None:
        body = canonical(document)
        store.add_documents(session, draft.group_id, [(content_hash(body), body)])
        change.hash = content_hash(body)
    else:
        change.hash = None
    if change.hash == published and not clashes:
        session.delete(change)
    else:
        session.add(change)
    session.flush()
    return clashes


def _with(session: Session, draft: DraftRow, row: ConflictRow, value: Any) -> bytes | None:
    """Return the draft's document with a value at the place of a conflict. Raises BadInput, Conflict."""
    present = drafts.json_of(drafts.document(session, draft, row.kind, row.name))
    published = drafts.base_hash(session, draft, row.kind, row.name)
    like = drafts.json_of(drafts.body_of(session, draft.group_id, published))
    try:
        changed = merging.settled(present, tuple(msgspec.json.decode(row.path)), value, like)
    except (KeyError, TypeError):
        detail = "What the conflict is part of is no longer in the draft."
        raise Conflict(detail, mend="Take the draft's side, and change the document itself.") from None
    if changed is None:
        return None
    document, faults = from_json(changed)
    if document is None or faults:
        raise BadInput(
            [Fault("/value", f"{f.pointer or 'The whole'}: {f.detail}", f.mend, f.code) for f in faults]
        )
    if document.id != row.name:
        detail = f"The document is '{row.name}' and stays so."
        raise BadInput([Fault("/value", detail, "Add another document instead.")])
    return canonical(document)


def _row(draft: DraftRow, number: int, change: DraftChangeRow, clash: Clash) -> ConflictRow:
    return ConflictRow(
        draft_id=draft.id,
        number=number,
        kind=change.kind,
        name=change.name,
        path=msgspec.json.encode(clash.path).decode(),
        base=_text(clash.base),
        published=_text(clash.published),
        draft=_text(clash.draft),
        taken=None,
    )


def pointer_of(row: ConflictRow) -> str:
    """Return where a conflict is, with names of entries in place of their numbers."""
    return pointer(msgspec.json.decode(row.path))


def value_of(text: str | None) -> Any:
    """Return a side of a conflict; None where there is nothing."""
    return None if text is None else msgspec.json.decode(text)


def _text(value: Any) -> str | None:
    return None if value is None else msgspec.json.encode(value).decode()
