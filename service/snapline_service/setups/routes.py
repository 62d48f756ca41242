"""HTTP of setups."""

from litestar import Request, Response, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import JSONBody

from snapline.wire.setups import Setup, SetupRequest
from snapline_service.access.callers import Caller, needs
from snapline_service.errors import NotAcceptable
from snapline_service.setups.actions import compute
from snapline_service.setups.drawing import draw

SVG = "image/svg+xml"
JSON = "application/json"


@post(
    "/v1/setups",
    operation_id="compute_setup",
    tags=["setups"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Setup, "also": [SVG], "catalogue": True},
)
def compute_setup(
    data: JSONBody[SetupRequest], caller: NamedDependency[Caller], request: Request[object, object, State]
) -> Response[Setup | str]:
    """Work out where every fixture of a procedure stands; as JSON, or as a drawing to scale.

    Accept chooses which: application/json, or image/svg+xml for a plan of one stage (``drawn_stage``).
    """
    wanted = request.accept.best_match([JSON, SVG]) if request.headers.get("accept") else JSON
    if wanted is None:
        detail = "A setup is made as application/json or image/svg+xml."
        raise NotAcceptable(detail, mend="Accept one of the two.")
    setup = compute(caller.catalogue, data)
    if wanted == SVG:
        return Response(draw(setup, data.drawn_stage), media_type=SVG)
    return Response(setup, media_type=JSON)


HANDLERS = [compute_setup]
