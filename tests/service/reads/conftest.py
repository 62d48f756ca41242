"""Look-ups as any HTTP client sees them."""

from collections.abc import Iterator

import httpx
import pytest

from running import Service
from snapline import Snapline


@pytest.fixture(scope="module")
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key, so that the tests see headers and bytes as they travel."""
    service, key = demo_service
    headers = {"authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.url, headers=headers, verify=False) as client:
        yield client


@pytest.fixture(scope="module")
def client(demo_service: tuple[Service, str]) -> Iterator[Snapline]:
    """An SDK client, opened once for the many calls of a module."""
    service, key = demo_service
    with Snapline(service.url, key) as client:
        yield client
