"""Whether the process is alive and whether it can answer; what a problem's type means."""

from typing import Literal

import sqlalchemy as sa
from litestar import Response, get
from litestar.datastructures import State
from litestar.params import FromPath
from msgspec import Struct

from snapline_service import metrics
from snapline_service.errors import NotFound
from snapline_service.problems import KINDS


class Health(Struct, frozen=True):
    """Whether it is well."""

    status: Literal["pass", "fail"]


class ProblemKind(Struct, frozen=True):
    """A kind of problem and what it means."""

    code: str
    status: int
    title: str
    meaning: str


@get("/livez", operation_id="live", tags=["operation"], sync_to_thread=False)
def live() -> Health:
    """Say that the process runs."""
    return Health("pass")


@get(
    "/readyz",
    operation_id="ready",
    tags=["operation"],
    sync_to_thread=True,
    opt={"answers": Health, "other": {"503": "The database cannot be reached."}},
)
def ready(state: State) -> Response[Health]:
    """Say whether the database can be reached."""
    engine: sa.Engine = state.engine
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("SELECT 1")
    except sa.exc.SQLAlchemyError:
        return Response(Health("fail"), status_code=503)
    return Response(Health("pass"))


@get(
    "/problems/{name:str}",
    operation_id="explain_problem",
    tags=["operation"],
    sync_to_thread=False,
    opt={"refused": ["404"]},
)
def explain_problem(name: FromPath[str]) -> ProblemKind:
    """Explain what a problem's type means."""
    code = name.upper().replace("-", "_")
    if code not in KINDS:
        message = "There is no such kind of problem."
        raise NotFound(message, mend="Use the 'type' of a problem as it is.")
    kind = KINDS[code]
    return ProblemKind(code, kind.status, kind.title, kind.meaning)


@get(
    "/metrics",
    include_in_schema=False,
    media_type="text/plain; version=0.0.4; charset=utf-8",
    sync_to_thread=True,
)
def expose_metrics() -> bytes:
    """Return counts and durations in Prometheus' text format."""
    return metrics.exposition()


HANDLERS = [live, ready, explain_problem, expose_metrics]
