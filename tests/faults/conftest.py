"""A shop with a catalogue in force, in a database of its own on each engine."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service import small
from service.shop import Shop
from snapline_service import database
from snapline_service.settings import Settings


@pytest.fixture
def shop(settings: Settings, tmp_path: Path) -> Iterator[Shop]:
    engine = database.connect(settings.database)
    made = Shop(engine, settings, tmp_path / "files", "north")
    made.put(small.catalogue())
    yield made
    engine.dispose()
