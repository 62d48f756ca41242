"""Demo services that tests of the contract change at will."""

from collections.abc import Iterator

import httpx
import pytest

from conftest import demo_in
from contract.scene import Scene
from running import Service, running


@pytest.fixture(scope="module")
def own_service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Service, str]]:
    """A demo service of this module alone, and a key with every scope."""
    settings, key = demo_in(tmp_path_factory.mktemp("own"), "sqlite", None)
    with running(settings) as service:
        yield service, key


@pytest.fixture
def http(own_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key that has every scope."""
    service, key = own_service
    with httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}) as client:
        yield client


@pytest.fixture(scope="module")
def scene(own_service: tuple[Service, str]) -> Iterator[Scene]:
    """What the examples are about."""
    with Scene(*own_service) as scene:
        yield scene
