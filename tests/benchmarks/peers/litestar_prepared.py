"""An ordinary Litestar handler that returns prepared bytes, with the key checked in a guard."""

import os

from litestar import Litestar, Response, get
from litestar.connection import ASGIConnection
from litestar.exceptions import NotAuthorizedException
from litestar.handlers import BaseRouteHandler
from litestar.params import FromPath

from benchmarks.peers.key import is_known
from snapline.offline import RevisionFile

_FILE = RevisionFile(os.environ["BENCHMARK_REVISION_FILE"])


async def _guard(connection: ASGIConnection, _handler: BaseRouteHandler) -> None:  # type: ignore[type-arg]
    if not is_known(connection.headers.get("authorization")):
        raise NotAuthorizedException


@get("/v1/vehicles/{vehicle_id:str}", guards=[_guard])
async def _vehicle(vehicle_id: FromPath[str]) -> Response[bytes]:
    found = _FILE.vehicle(vehicle_id)
    assert found
    return Response(found.body, media_type="application/json", headers={"etag": found.etag})


app = Litestar([_vehicle], openapi_config=None, logging_config=None)
