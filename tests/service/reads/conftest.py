"""Look-ups as any HTTP client sees them."""

from collections.abc import Iterator

import httpx
import pytest

from running import Service


@pytest.fixture(scope="module")
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key, so that the tests see headers and bytes as they travel."""
    service, key = demo_service
    headers = {"authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.url, headers=headers, verify=False) as client:
        yield client
