"""Table of answers that may have to be given again."""

from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class RepeatableRow(SQLModel, table=True):
    """What a write answered, without any secret, under the key that its caller chose."""

    __tablename__ = "idempotent_requests"

    group_id: str = Field(primary_key=True, foreign_key="groups.id")
    idempotency_key: str = Field(primary_key=True)
    fingerprint: str
    status: int
    body: bytes
    created_at: str = Field(index=True)
