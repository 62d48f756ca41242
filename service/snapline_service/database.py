"""The database: SQLite as the embedded default, PostgreSQL when several processes or sites share it."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
import uuid_utils
from alembic import command
from alembic.config import Config
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlmodel import Session, SQLModel

from snapline_service import places

# Constraints get predictable names, which SQLite's table-rebuilding migrations need.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


def connect(url: str) -> sa.Engine:
    """Return an engine for ``sqlite:///…`` or ``postgresql://…``."""
    if url.startswith("postgresql://"):
        return sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://", 1), pool_pre_ping=True)
    if path := url.partition(":///")[2]:
        Path(path).parent.mkdir(parents=True, exist_ok=True)
    engine = sa.create_engine(url, connect_args={"timeout": 10})
    sa.event.listen(engine, "connect", _prepare_sqlite)
    sa.event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: DBAPIConnection, _record: object) -> None:
    connection.isolation_level = None  # sqlite3 must not begin transactions; we do
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = NORMAL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _begin_sqlite(connection: sa.Connection) -> None:
    # A writer that starts as a reader cannot be made to wait for another writer, so it says what it is.
    writes = connection.get_execution_options().get("snapline_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def reading(engine: sa.Engine) -> Iterator[Session]:
    """Yield a session that only reads."""
    with Session(engine) as session:
        yield session


@contextmanager
def writing(engine: sa.Engine) -> Iterator[Session]:
    """Yield a session whose work is committed as a whole, or not at all."""
    with Session(engine.execution_options(snapline_writes=True)) as session, session.begin():
        yield session


def migrate(url: str, revision: str = "head") -> None:
    """Bring a database to a revision of the schema, up or down."""
    config = Config()
    config.set_main_option("script_location", str(places.migrations()).replace("%", "%%"))
    config.attributes["connection"] = engine = connect(url)
    move: Any = command.downgrade if revision == "base" or revision.startswith("-") else command.upgrade
    try:
        move(config, revision)
    finally:
        engine.dispose()


def new_id(prefix: str) -> str:
    """Return a new id: a type prefix and a time-ordered UUID (RFC 9562, version 7)."""
    return f"{prefix}_{uuid_utils.uuid7().hex}"


def now() -> str:
    """Return the present as RFC 3339 text in UTC, which sorts by time on both engines."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
