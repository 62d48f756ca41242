"""One migrated database for each engine, shared by many tests, each with a group of its own in it."""

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
import sqlalchemy as sa

from conftest import ENGINES, new_database, settings_in
from running import PostgreSQL
from service.shop import Shop
from snapline_service import database
from snapline_service.settings import Settings

Shared = tuple[sa.Engine, Settings]
NUMBERS = count(1)


@pytest.fixture(scope="session", params=ENGINES)
def shared(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, postgresql: PostgreSQL | None
) -> Iterator[Shared]:
    """A migrated database on each engine, and its settings."""
    folder = tmp_path_factory.mktemp(f"shared-{request.param}")
    settings = settings_in(folder, new_database(request.param, folder, postgresql))
    database.migrate(settings.database)
    engine = database.connect(settings.database)
    yield engine, settings
    engine.dispose()


@pytest.fixture(scope="session")
def new_shop(shared: Shared, tmp_path_factory: pytest.TempPathFactory) -> Callable[[], Shop]:
    """Make a new group in the shared database."""
    engine, settings = shared

    def make() -> Shop:
        name = f"shop-{next(NUMBERS)}"
        return Shop(engine, settings, tmp_path_factory.mktemp(name), name)

    return make


@pytest.fixture
def shop(new_shop: Callable[[], Shop]) -> Shop:
    """A new group in the shared database, on each engine."""
    return new_shop()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder for the files of a catalogue."""
    return tmp_path / "files"
