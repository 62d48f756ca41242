"""The calculators as any program that speaks HTTP calls them."""

from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest

from running import Service


@pytest.fixture(scope="module")
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key."""
    service, key = demo_service
    headers = {"authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.url, headers=headers, verify=False) as client:
        yield client


@pytest.fixture(scope="module")
def calculate(http: httpx.Client) -> Callable[[str, dict[str, Any]], dict[str, Any]]:
    """Return the answer of a calculator to a body."""

    def answer(name: str, body: dict[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = http.post(f"/v1/geometry/{name}", json=body).raise_for_status().json()
        return found

    return answer
