"""Compare two states of a group's catalogue, in time that follows what differs and not what there is."""

from collections.abc import Iterator
from typing import Any

import msgspec
from sqlmodel import Session

from snapline.wire.diffs import Diff
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.tables import DraftRow
from snapline_service.diffs import diff
from snapline_service.drafts import drafts
from snapline_service.errors import NotFound

_SHOWN = 500
Pair = tuple[str, str, str | None, str | None]


def revisions(session: Session, group_id: str, before: int, after: int) -> Diff:
    """Return what differs between two revisions, in either order. Raises NotFound."""
    for number in (before, after):
        if store.revision(session, group_id, number) is None:
            message = f"There is no revision {number}."
            raise NotFound(message, mend="List what there is with GET /v1/revisions.")
    older, newer = sorted((before, after))
    changed, gone = store.between(session, group_id, older, newer)
    now = {(e.kind, e.name): e.hash for e in changed}
    pairs = []
    for kind, name in sorted({*now, *gone}):
        entry = store.entry(session, group_id, older, kind, name)
        was, is_now = entry.hash if entry else None, now.get((kind, name))
        pairs.append((kind, name, was, is_now) if before == older else (kind, name, is_now, was))
    return _diff(session, group_id, f"revision {before}", f"revision {after}", pairs)


def draft(session: Session, row: DraftRow) -> Diff:
    """Return what a draft changes in the revision that it is on top of."""
    pairs = [
        (change.kind, change.name, drafts.base_hash(session, row, change.kind, change.name), change.hash)
        for change in draft_store.changes(session, row.id)
    ]
    return _diff(session, row.group_id, f"revision {row.base_revision}", "this draft", pairs)


def _diff(session: Session, group_id: str, before: str, after: str, pairs: list[Pair]) -> Diff:
    pairs = [pair for pair in pairs if pair[2] != pair[3]]  # a name may have come back to what it was
    shown = pairs[:_SHOWN]
    hashes = dict.fromkeys(digest for pair in shown for digest in pair[2:] if digest)
    bodies = dict(store.bodies(session, group_id, hashes))

    def value(digest: str | None) -> Any:
        return msgspec.json.decode(bodies[digest]) if digest else None

    def items() -> Iterator[Any]:
        for kind, name, was, is_now in shown:
            yield from diff.items(kind, name, value(was), value(is_now))  # type: ignore[arg-type]

    return Diff(
        before=before, after=after, documents=len(pairs), documents_shown=len(shown), items=tuple(items())
    )
