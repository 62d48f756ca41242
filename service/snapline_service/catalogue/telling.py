"""Tell those who follow the catalogue what becomes of drafts."""

from sqlmodel import Session

from snapline_service.catalogue.people import Person
from snapline_service.catalogue.tables import DraftRow


def tell(session: Session, draft: DraftRow, by: Person, event: str) -> None:
    """Record an event of a draft in the transaction of what it tells of."""
