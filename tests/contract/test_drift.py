"""The committed contract is what the code makes, and describes what the service serves and nothing else."""

import pytest
from litestar.routes import HTTPRoute

from contract.api import FOLDER, OPERATIONS
from snapline_service import contract
from snapline_service.app import READS, framework_app

# Not part of the API: the document itself, its page, and what a monitor scrapes.
BESIDE_THE_API = ("/openapi.json", "/docs", "/metrics")


@pytest.mark.parametrize("name", sorted(contract.files()))
def test_the_committed_contract_is_current(name: str) -> None:
    committed = (FOLDER / name).read_bytes()
    assert committed == contract.files()[name], "run: snapline contract openapi"


def shape(path: str) -> str:
    """Return an address without the names of what varies in it."""
    return "/".join("{}" if part.startswith("{") else part for part in path.split("/"))


def test_everything_that_is_served_is_described_and_the_other_way_round() -> None:
    served = {("get", shape(read.path)) for read in READS}
    for route in framework_app().routes:
        assert isinstance(route, HTTPRoute)
        if not route.path.startswith(BESIDE_THE_API):
            served |= {(str(m).lower(), shape(route.path)) for m in route.methods if m != "OPTIONS"}
    described = {(o.method, shape(o.path)) for o in OPERATIONS.values()}
    assert described == served
