"""Check a draft as a whole: what its documents refer to, and what refers to what it changes or retires."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct
from sqlmodel import Session

from snapline.wire.catalogue import CatalogueDocument, OperationDocument
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.documents import decode, kind_of
from snapline_service.catalogue.references import Names, check
from snapline_service.catalogue.tables import DraftRow
from snapline_service.revisions import supplement
from snapline_service.validation.doubt import Doubt
from snapline_service.validation.doubting import draft_doubts


class Finding(Struct, frozen=True):
    """Something wrong or doubtful in a draft; ``id`` stays as long as it is the same."""

    id: str
    severity: str
    code: str
    kind: str
    name: str
    pointer: str
    text: str
    mend: str


def findings(session: Session, draft: DraftRow, published: Path | None) -> Iterator[Finding]:
    """Yield what is wrong with a draft on top of the revision in force, whose file is ``published``."""
    names = _names(session, draft)
    for _, document in _concerned(session, draft, published):
        for fault in check(document, names):
            yield _finding(document, Doubt("error", fault.code, fault.pointer, fault.detail, fault.mend))
    for document, doubt in draft_doubts(session, draft, published):
        yield _finding(document, doubt)


def _finding(document: CatalogueDocument, doubt: Doubt) -> Finding:
    kind = kind_of(document)
    told = f"{kind} {document.id} {doubt.pointer} {doubt.code} {doubt.text}"
    return Finding(
        id=hashlib.sha256(told.encode()).hexdigest()[:16],
        severity=doubt.severity,
        code=doubt.code,
        kind=kind,
        name=document.id,
        pointer=doubt.pointer,
        text=doubt.text,
        mend=doubt.mend,
    )


def _names(session: Session, draft: DraftRow) -> Names:
    """Return what documents of the draft may refer to."""
    found = {
        kind: {e.name: e.hash for e in store.entries(session, draft.group_id, draft.base_revision, kind)}
        for kind in ("source", "fixture", "operation")
    }
    for change in draft_store.changes(session, draft.id):
        if change.kind in found:
            found[change.kind].pop(change.name, None)
            if change.hash:
                found[change.kind][change.name] = change.hash
    bodies = store.bodies(session, draft.group_id, found["operation"].values())
    operations = [decode("operation", body) for _, body in bodies]
    return Names(
        frozenset(found["source"]),
        frozenset(found["fixture"]),
        {one.id: one for one in operations if isinstance(one, OperationDocument)},
    )


def _concerned(
    session: Session, draft: DraftRow, published: Path | None
) -> Iterator[tuple[str, CatalogueDocument]]:
    """Yield the documents that the draft sets, and those left alone that refer to what it changes."""
    changes = {(change.kind, change.name): change for change in draft_store.changes(session, draft.id)}
    hashes = {change.hash: change.kind for change in changes.values() if change.hash}
    grounds = {f"{kind} {name}" for kind, name in changes if kind != "vehicle"}
    resting = supplement.dependants(published, grounds) if published and grounds else set()
    for name in sorted(resting):
        if ("vehicle", name) not in changes:
            entry = store.entry(session, draft.group_id, draft.base_revision, "vehicle", name)
            hashes |= {entry.hash: "vehicle"} if entry else {}
    if any(kind == "source" for kind, _ in changes):
        others = store.entries(session, draft.group_id, draft.base_revision, "fixture")
        hashes |= {entry.hash: "fixture" for entry in others if ("fixture", entry.name) not in changes}
    for digest, body in store.bodies(session, draft.group_id, hashes):
        yield hashes[digest], decode(hashes[digest], body)
