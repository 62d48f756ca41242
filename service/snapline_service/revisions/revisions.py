"""Published revisions, as answers give them, and the files of their offline copies."""

from pathlib import Path

from sqlmodel import Session

from snapline.wire.revisions import Revision, RevisionPart, RevisionParts
from snapline_service.catalogue import store
from snapline_service.catalogue.tables import OriginRow, RevisionRow
from snapline_service.errors import NotFound
from snapline_service.revisions import integrity
from snapline_service.revisions.supplement import meta_of

_REVIEW = {"reviewed": "reviewed", "alone": "alone", "command_line": "none"}


def shown(session: Session, row: RevisionRow) -> Revision:
    """Return a revision as answers give it."""
    return described(row, store.origin(session, row.group_id, row.number))


def described(row: RevisionRow, origin: OriginRow | None) -> Revision:
    """Return a revision with how it came about; early ones were all published at the command line."""
    return Revision(
        number=row.number,
        manifest_hash=row.manifest_hash,
        published_at=row.published_at,
        published_by=row.published_by,
        note=row.note,
        review=_REVIEW[origin.how] if origin else "none",
        reviewed_by=origin.reviewed_by if origin else None,
        draft_id=origin.draft_id if origin else None,
        restores=origin.restores if origin else None,
    )


def found(session: Session, group_id: str, number: int) -> RevisionRow:
    """Return a revision. Raises NotFound."""
    row = store.revision(session, group_id, number)
    if row is None:
        message = f"There is no revision {number}."
        raise NotFound(message, mend="List what there is with GET /v1/revisions.")
    return row


def parts(path: Path) -> RevisionParts:
    """Return the files of which an offline copy consists, the one to open first."""
    whole = path.with_name(meta_of(path).get("supplements", path.name))
    return RevisionParts(
        items=tuple(
            RevisionPart(
                name=part.name,
                size_bytes=part.stat().st_size,
                sha256=integrity.recorded(part) or integrity.sha256(part),
            )
            for part in dict.fromkeys((path, whole))
        )
    )
