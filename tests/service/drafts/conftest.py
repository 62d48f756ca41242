"""The real service on the shared database of each engine, and an office in it."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from running import Service, running
from service.conftest import Shared
from service.drafts.office import OPENED, Office
from service.shop import Shop


@pytest.fixture(scope="session")
def drafting(shared: Shared) -> Iterator[Service]:
    """The service on the shared database."""
    _, settings = shared
    with running(settings) as service:
        yield service


@pytest.fixture(scope="session")
def new_office(drafting: Service, new_shop: Callable[[], Shop]) -> Callable[[], Office]:
    """Make a new group with a small catalogue and two people."""
    return lambda: Office(new_shop(), drafting.url)


@pytest.fixture
def office(new_office: Callable[[], Office]) -> Iterator[Office]:
    """A new group; the connections of everybody in it are closed at the end."""
    yield new_office()
    while OPENED:
        OPENED.pop().close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "files"
