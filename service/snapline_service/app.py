"""The service put together."""

from litestar import Litestar, Request, Response, Router, get
from litestar.datastructures import State
from litestar.di import Provide
from litestar.exceptions import HTTPException
from litestar.types import ControllerRouterHandler

from snapline_service import database, docs, health, openapi, problems, settings
from snapline_service.access import routes as access
from snapline_service.access.callers import Caller, Callers
from snapline_service.calculators import routes as calculators
from snapline_service.changes import routes as changes
from snapline_service.diffs import routes as diffs
from snapline_service.drafts import document_routes, rebase_routes, review_routes
from snapline_service.drafts import routes as drafts
from snapline_service.errors import SnaplineError
from snapline_service.fixtures import reads as fixture_reads
from snapline_service.fixtures import routes as fixtures
from snapline_service.front import Front
from snapline_service.impact import routes as impact
from snapline_service.notes import routes as notes
from snapline_service.reads import Reads
from snapline_service.requests import StrictRequest
from snapline_service.revisions import routes as revisions
from snapline_service.settings import Settings
from snapline_service.setups import routes as setups
from snapline_service.setups import verifying
from snapline_service.sites import routes as sites
from snapline_service.spreadsheets import importing as spreadsheet_importing
from snapline_service.spreadsheets import routes as spreadsheets
from snapline_service.vehicles import reads as vehicle_reads
from snapline_service.vehicles import routes as vehicles
from snapline_service.visits import bulk
from snapline_service.visits import routes as visits
from snapline_service.webhooks import routes as webhooks
from snapline_service.webhooks.serving import delivering

READS = (*vehicle_reads.READS, *fixture_reads.READS)
HANDLERS: list[ControllerRouterHandler] = [
    *vehicles.HANDLERS,
    *fixtures.HANDLERS,
    *setups.HANDLERS,
    *verifying.HANDLERS,
    *sites.HANDLERS,
    *visits.HANDLERS,
    *drafts.HANDLERS,
    *document_routes.HANDLERS,
    *rebase_routes.HANDLERS,
    *review_routes.HANDLERS,
    *diffs.HANDLERS,
    *impact.HANDLERS,
    *revisions.HANDLERS,
    *spreadsheets.HANDLERS,
    *notes.HANDLERS,
    *changes.HANDLERS,
    *webhooks.HANDLERS,
    *calculators.HANDLERS,
    *access.HANDLERS,
    *health.HANDLERS,
    *docs.HANDLERS,
]


def create_app(chosen: Settings | None = None) -> Front:
    """Return the whole ASGI application. Settings come from the environment unless given."""
    chosen = chosen or settings.load()
    engine = database.connect(chosen.database)
    inner = framework_app(State({"engine": engine, "secret": chosen.secret, "settings": chosen}))
    return Front(
        inner,
        Callers(engine, chosen),
        Reads(READS),
        chosen,
        streamed=frozenset([bulk.PATH]),
        larger={spreadsheets.IMPORT: spreadsheet_importing.MAX_BYTES},
    )


def framework_app(state: State | None = None) -> Litestar:
    """Return the framework's part: everything but the prepared look-ups."""
    return Litestar(
        # Through a router, since the framework registers a path anew with each of its handlers, and wraps
        # those that run in a thread each time: of three or more, the first would answer with a coroutine.
        [Router("/", route_handlers=[*HANDLERS, _document])],
        state=state,
        lifespan=[delivering],
        request_class=StrictRequest,
        request_max_body_size=None,  # the front has seen to it
        dependencies={"caller": Provide(_caller, sync_to_thread=False)},
        exception_handlers={
            SnaplineError: problems.on_domain_error,
            HTTPException: problems.on_framework_error,
            Exception: problems.on_unexpected_error,
        },
        openapi_config=None,  # the framework's own document and pages, which load scripts from elsewhere
        logging_config=None,
    )


@get("/openapi.json", operation_id="openapi", include_in_schema=False, sync_to_thread=True)
def _document(request: Request[object, object, State]) -> Response[bytes]:
    return Response(openapi.encoded(request.app, READS), media_type="application/json")


def _caller(request: Request[object, object, State]) -> Caller:
    caller: Caller = request.scope["state"]["caller"]
    return caller
