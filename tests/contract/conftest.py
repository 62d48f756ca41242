"""The demo service, seen from outside."""

from collections.abc import Iterator

import httpx
import pytest

from running import Service


@pytest.fixture
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key that has every scope."""
    service, key = demo_service
    with httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}) as client:
        yield client
