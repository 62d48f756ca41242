"""The real service with the invented scenario, and a small office of its own for changes."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from running import Service, running
from service.conftest import Shared
from service.drafts.office import OPENED, Office
from service.shop import Shop


@pytest.fixture(scope="session")
def serving(shared: Shared) -> Iterator[Service]:
    """The service on the shared database."""
    _, settings = shared
    with running(settings) as service:
        yield service


@pytest.fixture
def office(serving: Service, new_shop: Callable[[], Shop]) -> Iterator[Office]:
    """A new group with a small catalogue and two people."""
    yield Office(new_shop(), serving.url)
    while OPENED:
        OPENED.pop().close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "files"
