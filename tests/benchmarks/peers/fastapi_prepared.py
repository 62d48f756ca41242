"""FastAPI that returns prepared bytes, with the key checked in a dependency.

Plain functions, which run in threads, are what its documentation advises for calls that block, as those of
SQLite do; below ``/async`` stands the same in coroutines, which suits a call as short as this one.
"""

import os

from fastapi import Depends, FastAPI, HTTPException, Request, Response

from benchmarks.peers.key import is_known
from snapline.offline import RevisionFile

_FILE = RevisionFile(os.environ["BENCHMARK_REVISION_FILE"])


def _check(request: Request) -> None:
    if not is_known(request.headers.get("authorization")):
        raise HTTPException(401)


def _vehicle(vehicle_id: str) -> Response:
    found = _FILE.vehicle(vehicle_id)
    assert found
    return Response(found.body, media_type="application/json", headers={"etag": found.etag})


async def _check_async(request: Request) -> None:
    _check(request)


async def _vehicle_async(vehicle_id: str) -> Response:
    return _vehicle(vehicle_id)


_PATH = "/v1/vehicles/{vehicle_id}"
app = FastAPI(openapi_url=None)
app.add_api_route(_PATH, _vehicle, dependencies=[Depends(_check)])
app.add_api_route(f"/async{_PATH}", _vehicle_async, dependencies=[Depends(_check_async)])
