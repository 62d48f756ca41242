"""HTTP of setting out with tapes."""

import msgspec
from litestar import post
from litestar.params import JSONBody

from snapline.wire.setting_out import SettingOutAnswer, SettingOutRequest
from snapline_service import cautions
from snapline_service.access.callers import needs
from snapline_service.geometry.blockers import Blockers
from snapline_service.geometry.marks import independent
from snapline_service.geometry.setting_out import Tolerance, set_out
from snapline_service.geometry.tapes import instrument


@post(
    "/v1/geometry/setting-out",
    operation_id="compute_setting_out",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_setting_out(data: JSONBody[SettingOutRequest]) -> SettingOutAnswer:
    """Find the two marks from which tapes fix a point best, the distances, and a third tape as the check.

    The answer's tolerances are for the two distances. Without a pair it says what is in the way of each mark.
    """
    marks = independent(
        {name: (mark.x_mm, mark.y_mm) for name, mark in data.marks.items()},
        {name: mark.u_mm for name, mark in data.marks.items()},
    )
    found = set_out(
        marks,
        (data.target.x_mm, data.target.y_mm),
        critical_direction=data.critical_direction,
        tolerance=Tolerance(data.tolerance.critical_mm, data.tolerance.other_mm),
        tape=instrument(data.tape.class_, data.tape.mpe_mm, data.tape.length_mm),
        blockers=Blockers(data.blockers),
        min_sin_angle=data.min_sin_angle,
    )
    answer = msgspec.convert(found, SettingOutAnswer, from_attributes=True)
    return msgspec.structs.replace(answer, cautions=cautions.for_work([], [], []))


HANDLERS = [compute_setting_out]
