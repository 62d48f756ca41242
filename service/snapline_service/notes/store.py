"""All SQL of local notes."""

import sqlalchemy as sa
from sqlmodel import Session, col, select

from snapline.wire.notes import NoteQuery
from snapline_service.notes.tables import NoteRow


def note(session: Session, group_id: str, note_id: str, *, to_change: bool = False) -> NoteRow | None:
    """Return a note of the group. ``to_change`` makes others who want to change it wait."""
    return session.get(NoteRow, (group_id, note_id), with_for_update=to_change or None)


def notes(session: Session, group_id: str, wanted: NoteQuery, after: str | None, limit: int) -> list[str]:
    """Return the bodies of the notes that pass the filters, oldest first, those behind an id."""
    query = select(NoteRow.body).where(NoteRow.group_id == group_id)
    if wanted.vehicle_id:
        query = query.where(NoteRow.vehicle_id == wanted.vehicle_id)
    if wanted.procedure_id:
        query = query.where(NoteRow.procedure_id == wanted.procedure_id)
    if wanted.site:
        query = query.where(sa.or_(col(NoteRow.site_id) == wanted.site, col(NoteRow.site_id).is_(None)))
    if after is not None:
        query = query.where(NoteRow.id > after)
    return list(session.exec(query.order_by(col(NoteRow.id)).limit(limit)))
