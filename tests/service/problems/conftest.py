"""The service under bad input; whatever comes, nothing is written and the service goes on."""

from collections.abc import Iterator

import httpx
import pytest
import sqlalchemy as sa

from running import Service


@pytest.fixture(scope="module")
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key."""
    service, key = demo_service
    headers = {"authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.url, headers=headers, verify=False, timeout=30) as client:
        yield client


@pytest.fixture(scope="module", autouse=True)
def nothing_happened(demo_service: tuple[Service, str], http: httpx.Client) -> Iterator[None]:
    """Hold the database's rows and the service's health before every module against those after it."""
    service, _ = demo_service
    before = _rows(service)
    assert sum(before.values()) > 0
    yield
    assert _rows(service) == before
    assert service.process.poll() is None
    assert http.get("/readyz").json() == {"status": "pass"}


def _rows(service: Service) -> dict[str, int]:
    with service.engine() as engine, engine.connect() as connection:
        tables = sa.inspect(engine).get_table_names()
        return {
            name: connection.execute(sa.select(sa.func.count()).select_from(sa.table(name))).scalar_one()
            for name in tables
        }
