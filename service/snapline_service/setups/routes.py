"""HTTP of setups."""

from datetime import UTC, datetime

from litestar import Request, Response, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import JSONBody

from snapline.wire.setups import Setup, SetupRequest
from snapline_service.access.callers import Caller, needs
from snapline_service.errors import NotAcceptable
from snapline_service.setups.actions import compute
from snapline_service.setups.drawing import draw
from snapline_service.setups.sheet import Issue, as_html, as_pdf

JSON = "application/json"
SVG = "image/svg+xml"
HTML = "text/html"
PDF = "application/pdf"


@post(
    "/v1/setups",
    operation_id="compute_setup",
    tags=["setups"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Setup, "also": [SVG, HTML, PDF], "catalogue": True},
)
def compute_setup(
    data: JSONBody[SetupRequest], caller: NamedDependency[Caller], request: Request[object, object, State]
) -> Response[Setup | str | bytes]:
    """Work out where every fixture of a procedure stands; as JSON, as a drawing, or as a sheet to work from.

    Accept chooses which: application/json; image/svg+xml for the plan of one stage (``drawn_stage``);
    text/html or application/pdf for the sheet of the whole procedure, on ``paper``, a stage on each page.
    """
    wanted = request.accept.best_match([JSON, SVG, HTML, PDF]) if request.headers.get("accept") else JSON
    if wanted is None:
        detail = f"A setup is made as {JSON}, {SVG}, {HTML} or {PDF}."
        raise NotAcceptable(detail, mend="Accept one of the four.")
    setup = compute(caller.catalogue, data)
    if wanted == JSON:
        return Response(setup, media_type=JSON)
    if wanted == SVG:
        return Response(draw(setup, data.drawn_stage), media_type=SVG)
    issue = Issue(caller.principal.group_title, datetime.now(UTC).date())
    if wanted == HTML:
        return Response(as_html(setup, issue, data.paper), media_type=HTML)
    return Response(as_pdf(setup, issue, data.paper), media_type=PDF)


HANDLERS = [compute_setup]
