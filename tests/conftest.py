"""What tests share: both database engines, the real service on each, and the invented scenario."""

import os
from collections.abc import Iterator
from pathlib import Path

import hypothesis
import pytest

from running import PostgreSQL, Service, postgresql_binaries, running
from snapline import Snapline
from snapline_service import database
from snapline_service.demo import scenario
from snapline_service.settings import Settings

REQUIRE_POSTGRESQL = os.environ.get("SNAPLINE_REQUIRE_POSTGRESQL") == "1"
ENGINES = ("sqlite", "postgresql")

# Two cores shared with a database server: the time of one example says nothing.
hypothesis.settings.register_profile("snapline", deadline=None)
hypothesis.settings.load_profile("snapline")


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgreSQL | None]:
    binaries = postgresql_binaries()
    if binaries is None:
        assert not REQUIRE_POSTGRESQL, "PostgreSQL is required here and its programs are not installed"
        yield None
        return
    server = PostgreSQL(binaries)
    yield server
    server.stop()


def new_database(engine: str, folder: Path, postgresql: PostgreSQL | None) -> str:
    """Return the URL of an empty database on one of the engines."""
    if engine == "sqlite":
        return f"sqlite:///{folder}/snapline.db"
    if postgresql is None:
        pytest.skip("PostgreSQL is not installed")
    return postgresql.new_database()


def settings_in(folder: Path, url: str) -> Settings:
    """Return settings for a database, with revision files in a folder."""
    return Settings(
        database=url,
        data_folder=folder / "revisions",
        secret=b"a secret for tests alone",
        requests_per_minute=10_000_000,
        webhooks_deliver=False,  # addresses that tests make up are nobody's business
    )


@pytest.fixture(params=ENGINES)
def empty_database(request: pytest.FixtureRequest, tmp_path: Path, postgresql: PostgreSQL | None) -> str:
    """An empty database without a schema, on each engine."""
    return new_database(request.param, tmp_path, postgresql)


@pytest.fixture
def settings(empty_database: str, tmp_path: Path) -> Settings:
    """Settings of a migrated, empty database, on each engine."""
    database.migrate(empty_database)
    return settings_in(tmp_path, empty_database)


@pytest.fixture(scope="session", params=ENGINES)
def demo_service(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, postgresql: PostgreSQL | None
) -> Iterator[tuple[Service, str]]:
    """The real service with the invented scenario, on each engine, and a key with every scope."""
    settings, key = demo_in(tmp_path_factory.mktemp("service"), request.param, postgresql)
    with running(settings) as service:
        yield service, key


def demo_in(folder: Path, engine: str, postgresql: PostgreSQL | None) -> tuple[Settings, str]:
    """Load the invented scenario into a new database; return its settings and a key with every scope."""
    settings = settings_in(folder, new_database(engine, folder, postgresql))
    database.migrate(settings.database)
    return settings, scenario.load(settings)


@pytest.fixture(params=ENGINES)
def own_demo(
    request: pytest.FixtureRequest, tmp_path: Path, postgresql: PostgreSQL | None
) -> tuple[Settings, str]:
    """The demo of one test alone, on each engine: its settings, and a key with every scope."""
    return demo_in(tmp_path, request.param, postgresql)


@pytest.fixture
def client(demo_service: tuple[Service, str]) -> Iterator[Snapline]:
    """An SDK client of the demo service."""
    service, key = demo_service
    with Snapline(service.url, key) as client:
        yield client


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say loudly what did not run."""
    if postgresql_binaries() is None:
        terminalreporter.section("NOT TESTED: PostgreSQL", sep="!", red=True)
        terminalreporter.line("initdb and pg_ctl were not found, so everything ran on SQLite alone.")
        terminalreporter.line("On Debian: apt-get install postgresql")
