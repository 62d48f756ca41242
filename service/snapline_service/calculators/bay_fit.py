"""HTTP of bay fit."""

import msgspec
from litestar import post
from litestar.params import JSONBody

from snapline.wire.bay_fit import BayFitAnswer, BayFitRequest, FitBay, FitProcedure, HeightSpan
from snapline_service.access.callers import needs
from snapline_service.errors import InvalidValue
from snapline_service.geometry.bay_fit import Bay, Door, Obstacle, Part, Procedure, fit


@post(
    "/v1/geometry/bay-fit",
    operation_id="compute_bay_fit",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_bay_fit(data: JSONBody[BayFitRequest]) -> BayFitAnswer:
    """Find where in a bay there is room for a vehicle and everything that is done with it.

    What touches fits. A part and an obstacle whose heights do not overlap do not meet.
    """
    found = fit(_bay(data.bay), data.headings_deg, [_procedure(one) for one in data.procedures])
    return msgspec.convert(found, BayFitAnswer, from_attributes=True)


def _bay(bay: FitBay) -> Bay:
    heights = bay.obstacle_heights
    if heights is not None and len(heights) != len(bay.obstacles):
        detail = f"There are {len(bay.obstacles)} obstacles and {len(heights)} heights."
        mend = "Give each obstacle its heights in the same order, or leave all of them out."
        raise InvalidValue(detail, pointer="/bay/obstacle_heights", mend=mend)
    spans = heights or (HeightSpan(),) * len(bay.obstacles)
    return Bay(
        ring=bay.ring,
        obstacles=tuple(
            Obstacle(polygon, span.z_min_mm, span.z_max_mm)
            for polygon, span in zip(bay.obstacles, spans, strict=True)
        ),
        doors=tuple(Door(door.start, door.end, door.open) for door in bay.doors),
        ceiling_mm=bay.ceiling_mm,
    )


def _procedure(procedure: FitProcedure) -> Procedure:
    parts = (
        Part(part.name, part.kind, part.polygon, part.z_min_mm, part.z_max_mm) for part in procedure.parts
    )
    return Procedure(procedure.name, tuple(parts))


HANDLERS = [compute_bay_fit]
