"""Tell those who follow the catalogue what becomes of drafts."""

from sqlmodel import Session

from snapline_service.access.people import Person
from snapline_service.catalogue.tables import DraftRow
from snapline_service.changes.record import record


def tell(session: Session, draft: DraftRow, by: Person, event: str) -> None:
    """Record an event of a draft in the transaction of what it tells of."""
    data = {"draft_id": draft.id, "base_revision": draft.base_revision, "restores": draft.restores}
    subject = f"/v1/drafts/{draft.id}"
    if event == "catalogue.published":
        data["revision"] = draft.published_as
        subject = f"/v1/revisions/{draft.published_as}"
    record(session, group_id=draft.group_id, by=by, type=event, subject=subject, data=data)
