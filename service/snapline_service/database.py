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
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlmodel import Session, SQLModel

from snapline_service import places
from snapline_service.errors import Conflict, InvalidValue, NotFound

# Constraints get predictable names, which SQLite's table-rebuilding migrations need.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


LARGEST_INTEGER = 2**31 - 1  # of a column: PostgreSQL refuses to be asked for a larger one


def connect(url: str) -> sa.Engine:
    """Return an engine for ``sqlite:///…`` or ``postgresql://…``. Raises InvalidValue for anything else."""
    if url.startswith("postgresql://"):
        return _connect_postgresql(url)
    scheme, _, path = url.partition(":///")
    if scheme != "sqlite" or not path:
        raise _not_an_address()
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    engine = sa.create_engine(url, connect_args={"timeout": 10})
    sa.event.listen(engine, "connect", _prepare_sqlite)
    sa.event.listen(engine, "begin", _begin_sqlite)
    return engine


def connect_existing(url: str) -> sa.Engine:
    """Return an engine for a database that is there: a mistyped name makes no file. Raises NotFound."""
    scheme, _, path = url.partition(":///")
    if scheme == "sqlite" and path and not Path(path).exists():
        raise NotFound(f"There is no database {path}.", mend="Correct the name, or run: snapline migrate")
    engine = connect(url)
    try:
        engine.connect().close()
    except sa.exc.SQLAlchemyError:
        engine.dispose()
        raise
    return engine


def _connect_postgresql(url: str) -> sa.Engine:
    try:
        full = sa.make_url(url.replace("postgresql://", "postgresql+psycopg://", 1))
    except (sa.exc.ArgumentError, ValueError) as error:
        raise _not_an_address() from error
    try:
        return sa.create_engine(full, pool_pre_ping=True)
    except ModuleNotFoundError as error:
        mend = "Run: pip install -c service/constraints.txt ./sdk '.[postgresql]'"
        raise InvalidValue("The driver for PostgreSQL is not installed.", mend=mend) from error


def _not_an_address() -> InvalidValue:
    # The address itself is not repeated: it may hold a password.
    mend = "Give sqlite:///FILE or postgresql://USER@HOST/NAME."
    return InvalidValue("This is no database address that can be used.", mend=mend)


def _prepare_sqlite(connection: DBAPIConnection, _record: object) -> None:
    connection.isolation_level = None  # sqlite3 must not begin transactions; we do
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = NORMAL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute("PRAGMA recursive_triggers = ON")  # or REPLACE would delete behind the triggers' back
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
    """Bring a database to a revision of the schema, up or down. Raises CommandError if there is none such."""
    config = _alembic()
    config.attributes["connection"] = engine = connect(url)
    try:
        move: Any = command.downgrade if _is_below(config, engine, revision) else command.upgrade
        move(config, revision)
    finally:
        engine.dispose()


def require_migrated(url: str) -> None:
    """Raise Conflict unless the database's schema is the one that this version works with."""
    engine = connect(url)
    try:
        current = _revision(engine)
    finally:
        engine.dispose()
    wanted = ScriptDirectory.from_config(_alembic()).get_current_head()
    if current != wanted:
        message = f"The database's schema is at '{current or 'base'}'; this version works with '{wanted}'."
        raise Conflict(message, mend="Run: snapline migrate")


def _alembic() -> Config:
    config = Config()
    config.set_main_option("script_location", str(places.migrations()).replace("%", "%%"))
    return config


def _revision(engine: sa.Engine) -> str | None:
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def _is_below(config: Config, engine: sa.Engine, revision: str) -> bool:
    """Whether a revision of the schema lies below the one that the database is at."""
    if revision == "base" or revision.startswith("-"):
        return True
    current = _revision(engine)
    passed = ScriptDirectory.from_config(config).iterate_revisions(current, "base") if current else ()
    return revision in {script.revision for script in passed} - {current}


def new_id(prefix: str) -> str:
    """Return a new id: a type prefix and a time-ordered UUID (RFC 9562, version 7)."""
    return f"{prefix}_{uuid_utils.uuid7().hex}"


def now() -> str:
    """Return the present as RFC 3339 text in UTC, which sorts by time on both engines."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
