"""HTTP of the verification of a setup."""

from litestar import post
from litestar.di import NamedDependency
from litestar.params import JSONBody

from snapline.wire.verification import Verification, VerifyRequest
from snapline_service.access.callers import Caller, needs
from snapline_service.setups.verification import verify


@post(
    "/v1/setups/verify",
    operation_id="verify_setup",
    tags=["setups"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
    opt={"catalogue": True},
)
def verify_setup(data: JSONBody[VerifyRequest], caller: NamedDependency[Caller]) -> Verification:
    """Say whether the fixtures of a setup stand where they should, by distances, heights and tilts measured.

    All distances are adjusted together, because fixtures that were measured from one mark share its error.
    Distances that disagree are an answer; distances from which no place follows are refused.
    """
    return verify(caller.catalogue, data)


HANDLERS = [verify_setup]
