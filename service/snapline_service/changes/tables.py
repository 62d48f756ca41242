"""Tables of events.

None refers to its group by a foreign key: an event is numbered last of all in its transaction, and must not
then wait for anybody who holds the group's row.
"""

from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class EventRow(SQLModel, table=True):
    """What somebody did. Never changed, never deleted; ``number`` runs from 1 in each group without gaps.

    ``data`` is a JSON object without free text, so that no VIN and no secret gets in.
    """

    __tablename__ = "events"

    group_id: str = Field(primary_key=True)
    number: int = Field(primary_key=True)
    id: str = Field(unique=True)
    at: str
    by_id: str
    by_name: str
    type: str
    subject: str
    data: str


class LastEventRow(SQLModel, table=True):
    """The number of a group's newest event; who writes one holds this row until it is committed."""

    __tablename__ = "last_events"

    group_id: str = Field(primary_key=True)
    number: int
