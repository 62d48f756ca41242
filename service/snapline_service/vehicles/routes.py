"""HTTP of vehicles, beside the prepared look-ups."""

from litestar import post
from litestar.di import NamedDependency
from litestar.params import JSONBody

from snapline.wire.vehicles import Identification, IdentifyRequest
from snapline_service.access.callers import Caller, needs
from snapline_service.vehicles.identification import identify


@post(
    "/v1/vehicles/identify",
    operation_id="identify_vehicle",
    tags=["vehicles"],
    guards=[needs("read")],
    status_code=200,
    sync_to_thread=True,
    opt={"catalogue": True},
)
def identify_vehicle(data: JSONBody[IdentifyRequest], caller: NamedDependency[Caller]) -> Identification:
    """Find out which vehicle it is and what is fitted, with the fewest questions that are still open.

    Ask again with their answers until none is left; 'cannot_tell' is an answer too.
    """
    return identify(caller.catalogue, data)


HANDLERS = [identify_vehicle]
