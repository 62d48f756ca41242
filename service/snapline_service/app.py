"""The service put together."""

import msgspec
from litestar import Litestar, Request, Response, get
from litestar.datastructures import State
from litestar.di import Provide
from litestar.exceptions import HTTPException
from litestar.openapi import OpenAPIConfig

from snapline_service import database, health, openapi, problems, settings
from snapline_service.access.callers import Caller, Callers
from snapline_service.calculators import routes as calculators
from snapline_service.errors import SnaplineError
from snapline_service.fixtures import reads as fixture_reads
from snapline_service.fixtures import routes as fixtures
from snapline_service.front import Front
from snapline_service.reads import Reads
from snapline_service.requests import StrictRequest
from snapline_service.settings import Settings
from snapline_service.setups import routes as setups
from snapline_service.vehicles import reads as vehicle_reads
from snapline_service.vehicles import routes as vehicles

MAX_BODY_BYTES = 1_000_000
READS = (*vehicle_reads.READS, *fixture_reads.READS)
HANDLERS = [
    *vehicles.HANDLERS,
    *fixtures.HANDLERS,
    *setups.HANDLERS,
    *calculators.HANDLERS,
    *health.HANDLERS,
]


def create_app(chosen: Settings | None = None) -> Front:
    """Return the whole ASGI application. Settings come from the environment unless given."""
    chosen = chosen or settings.load()
    engine = database.connect(chosen.database)
    inner = framework_app(State({"engine": engine}))
    return Front(inner, Callers(engine, chosen), Reads(READS))


def framework_app(state: State | None = None) -> Litestar:
    """Return the framework's part: everything but the prepared look-ups."""
    return Litestar(
        [*HANDLERS, _document],
        state=state,
        request_class=StrictRequest,
        request_max_body_size=MAX_BODY_BYTES,
        dependencies={"caller": Provide(_caller, sync_to_thread=False)},
        exception_handlers={
            SnaplineError: problems.on_domain_error,
            HTTPException: problems.on_framework_error,
            Exception: problems.on_unexpected_error,
        },
        openapi_config=OpenAPIConfig(title="Snapline", version="1", create_examples=False, render_plugins=[]),
        logging_config=None,
    )


@get("/openapi.json", operation_id="openapi", include_in_schema=False, sync_to_thread=True)
def _document(request: Request[object, object, State]) -> Response[bytes]:
    document = openapi.document(request.app, READS)
    return Response(msgspec.json.encode(document), media_type="application/json")


def _caller(request: Request[object, object, State]) -> Caller:
    caller: Caller = request.scope["state"]["caller"]
    return caller
