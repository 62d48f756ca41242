"""Whether the process is alive and whether it can answer; what a problem's type means."""

from typing import Any

import sqlalchemy as sa
from litestar import Response, get
from litestar.datastructures import State
from litestar.params import FromPath

from snapline_service.errors import NotFound
from snapline_service.problems import KINDS


@get("/livez", operation_id="live", tags=["operation"], sync_to_thread=False)
def live() -> dict[str, str]:
    """Say that the process runs."""
    return {"status": "pass"}


@get(
    "/readyz", operation_id="ready", tags=["operation"], sync_to_thread=True, opt={"answers": dict[str, str]}
)
def ready(state: State) -> Response[dict[str, str]]:
    """Say whether the database can be reached."""
    engine: sa.Engine = state.engine
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("SELECT 1")
    except sa.exc.SQLAlchemyError:
        return Response({"status": "fail"}, status_code=503)
    return Response({"status": "pass"})


@get("/problems/{name:str}", operation_id="explain_problem", tags=["operation"], sync_to_thread=False)
def explain_problem(name: FromPath[str]) -> dict[str, Any]:
    """Explain what a problem's type means."""
    code = name.upper().replace("-", "_")
    if code not in KINDS:
        message = "There is no such kind of problem."
        raise NotFound(message, mend="Use the 'type' of a problem as it is.")
    kind = KINDS[code]
    return {"code": code, "status": kind.status, "title": kind.title, "meaning": kind.meaning}


HANDLERS = [live, ready, explain_problem]
