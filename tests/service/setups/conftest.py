"""Every static procedure of every demo vehicle, set up once on each engine."""

from collections.abc import Iterator

import httpx
import pytest

from running import Service
from service.setups.job import COMPLETE, Job
from snapline import Snapline
from snapline.wire.setups import Setup


@pytest.fixture(scope="session")
def setups(demo_service: tuple[Service, str]) -> dict[Job, Setup]:
    service, key = demo_service
    with Snapline(service.url, key) as client:
        return {
            job: client.setups.compute(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id)
            for job in COMPLETE
        }


@pytest.fixture(scope="module")
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A bare HTTP client with a key."""
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
