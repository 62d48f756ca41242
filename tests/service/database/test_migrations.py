"""The schema goes up, down and up again with data in it, on both engines."""

from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest
import sqlalchemy as sa
from alembic.config import Config as AlembicConfig
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from pytest_alembic.config import Config
from pytest_alembic.plugin.error import AlembicTestFailure
from pytest_alembic.runner import MigrationContext, runner

from service import small
from service.shop import Shop, rows
from snapline_service import database, places
from snapline_service.database import now, writing
from snapline_service.errors import Conflict, InvalidValue
from snapline_service.idempotency.tables import RepeatableRow
from snapline_service.settings import Settings

HISTORY = AlembicConfig()
HISTORY.set_main_option("script_location", str(places.migrations()))
HEAD = str(ScriptDirectory.from_config(HISTORY).get_current_head())


@pytest.fixture
def engine(empty_database: str) -> Iterator[sa.Engine]:
    engine = database.connect(empty_database)
    yield engine
    engine.dispose()


@pytest.fixture
def alembic(engine: sa.Engine) -> Iterator[MigrationContext]:
    """pytest-alembic's runner without its pytest plug-in."""
    with runner(Config(alembic_config=HISTORY), engine) as context:
        yield context


@pytest.fixture(scope="session")
def checks(pytestconfig: pytest.Config) -> ModuleType:
    """pytest-alembic's checks, which bear a mark that its plug-in would have made known."""
    pytestconfig.addinivalue_line("markers", "alembic: one of pytest-alembic's checks")
    return import_module("pytest_alembic.tests.default")


@pytest.fixture
def used(settings: Settings, tmp_path: Path) -> Iterator[Shop]:
    """A database of its own with a key, two revisions, an open draft and a repeatable write in it."""
    engine = database.connect(settings.database)
    shop = Shop(engine, settings, tmp_path / "files", "north")
    shop.key()
    answer = RepeatableRow(
        group_id=shop.group_id, idempotency_key="k", fingerprint="f", status=201, body=b"{}", created_at=now()
    )
    with writing(engine) as session:
        session.add(answer)
    shop.put(small.catalogue())
    shop.put([small.vehicle(distance_mm=2450)])
    shop.import_(small.write(tmp_path / "open", [small.vehicle(distance_mm=2500)]))
    yield shop
    engine.dispose()


def at(engine: sa.Engine) -> str | None:
    with engine.connect() as connection:
        return connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()


def tables(engine: sa.Engine) -> set[str]:
    return set(sa.inspect(engine).get_table_names())


def spoil_a_document(engine: sa.Engine) -> int:
    """Try what no trigger may let pass, and take it back."""
    with engine.connect() as connection:
        return connection.execute(
            sa.text("UPDATE documents SET body = (SELECT body FROM documents LIMIT 1)")
        ).rowcount


def test_the_history_has_one_head(alembic: MigrationContext, checks: ModuleType) -> None:
    checks.test_single_head_revision(alembic)


def test_the_history_runs_from_nothing_to_its_head(alembic: MigrationContext, checks: ModuleType) -> None:
    checks.test_upgrade(alembic)


def test_every_step_can_be_taken_back_and_taken_again(alembic: MigrationContext, checks: ModuleType) -> None:
    checks.test_up_down_consistency(alembic)


def test_the_tables_of_the_code_are_those_of_the_migrations(
    alembic: MigrationContext, checks: ModuleType
) -> None:
    checks.test_model_definitions_match_ddl(alembic)


def test_a_column_that_only_the_database_has_would_be_noticed(
    alembic: MigrationContext, checks: ModuleType, engine: sa.Engine
) -> None:
    alembic.migrate_up_to("heads")
    with engine.begin() as connection:
        connection.execute(sa.text("ALTER TABLE holders ADD COLUMN nickname VARCHAR"))
    with pytest.raises(AlembicTestFailure):
        checks.test_model_definitions_match_ddl(alembic)


def test_every_constraint_has_a_name(settings: Settings) -> None:
    """SQLite can only rebuild a table whose constraints it can name."""
    engine = database.connect(settings.database)
    found = sa.inspect(engine)
    for table in tables(engine) - {"alembic_version"}:
        names = [found.get_pk_constraint(table)["name"]]
        names += [key["name"] for key in found.get_foreign_keys(table)]
        names += [unique["name"] for unique in found.get_unique_constraints(table)]
        assert all(names), table
    engine.dispose()


def test_data_survive_a_step_down_and_up_where_the_tables_stay(used: Shop) -> None:
    before = rows(used.engine)
    database.migrate(used.settings.database, "catalogue")
    assert at(used.engine) == "catalogue"
    kept = rows(used.engine)
    assert all(kept.values()), "every table that stays should have something to lose"
    # Later columns stand behind the ones that were there before.
    assert kept == {name: [row[: len(kept[name][0])] for row in before[name]] for name in kept}
    assert spoil_a_document(used.engine) > 0, "without triggers nothing refuses this"
    database.migrate(used.settings.database)
    assert at(used.engine) == HEAD
    after = rows(used.engine)
    assert kept == {name: [row[: len(kept[name][0])] for row in after[name]] for name in kept}
    with pytest.raises(sa.exc.IntegrityError, match="published content never changes"):
        spoil_a_document(used.engine)


def test_work_goes_on_after_a_step_down_and_up(used: Shop) -> None:
    database.migrate(used.settings.database, "-1")
    database.migrate(used.settings.database)
    assert used.publish().number == 3
    assert used.put([small.vehicle(distance_mm=2600)]).number == 4


def test_groups_and_keys_survive_while_the_catalogue_goes(used: Shop) -> None:
    kept = {name: rows(used.engine)[name] for name in ("groups", "holders", "api_keys")}
    database.migrate(used.settings.database, "access")
    assert tables(used.engine) == {*kept, "alembic_version"}
    database.migrate(used.settings.database)
    assert {name: found for name, found in rows(used.engine).items() if found} == kept
    assert used.put(small.catalogue()).number == 1


def test_down_to_nothing_and_up_again(used: Shop) -> None:
    database.migrate(used.settings.database, "base")
    assert tables(used.engine) == {"alembic_version"}
    database.migrate(used.settings.database)
    assert not any(rows(used.engine).values())


def test_migrating_what_is_up_to_date_changes_nothing(used: Shop) -> None:
    before = rows(used.engine)
    for revision in ("head", HEAD, "head"):
        database.migrate(used.settings.database, revision)
    assert rows(used.engine) == before
    assert at(used.engine) == HEAD


def test_a_migration_that_fails_leaves_nothing_of_itself(engine: sa.Engine, empty_database: str) -> None:
    database.migrate(empty_database, "idempotency")
    with engine.begin() as connection:
        connection.execute(sa.text("CREATE TABLE drafts (id VARCHAR)"))
    before = tables(engine)
    with pytest.raises(sa.exc.DatabaseError, match="drafts"):
        database.migrate(empty_database)
    assert tables(engine) == before
    assert at(engine) == "idempotency"


@pytest.mark.parametrize("revision", ["nonsense", "-99", "+99"])
def test_a_revision_that_does_not_exist_is_refused(empty_database: str, revision: str) -> None:
    with pytest.raises(CommandError):
        database.migrate(empty_database, revision)


def test_a_database_at_another_schema_is_told_apart(used: Shop) -> None:
    database.require_migrated(used.settings.database)
    database.migrate(used.settings.database, "catalogue")
    with pytest.raises(Conflict, match=f"at 'catalogue'; this version works with '{HEAD}'") as refused:
        database.require_migrated(used.settings.database)
    assert "snapline migrate" in refused.value.mend


@pytest.mark.parametrize("url", ["", "snapline.db", "sqlite://", "sqlite:///", "mysql://user@host/name"])
def test_an_address_of_another_kind_of_database_is_refused(url: str) -> None:
    with pytest.raises(InvalidValue) as refused:
        database.connect(url)
    assert "sqlite:///FILE" in refused.value.mend
