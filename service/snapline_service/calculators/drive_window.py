"""HTTP of the drive window."""

from datetime import date

from litestar import post
from litestar.params import JSONBody

from snapline.wire.drive_window import DriveWindowAnswer, DriveWindowRequest, TimeWindow
from snapline_service.access.callers import needs
from snapline_service.errors import InvalidValue
from snapline_service.planning.drive_window import Dazzle, daylight_windows


@post(
    "/v1/geometry/drive-window",
    operation_id="compute_drive_window",
    tags=["geometry"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
)
def compute_drive_window(data: JSONBody[DriveWindowRequest]) -> DriveWindowAnswer:
    """Find when on a local day the sun is high enough and does not dazzle on a road's heading.

    A day has 23 to 25 hours where clocks change. Traffic, weather and the procedure's own limits come on top.
    """
    windows = daylight_windows(
        data.latitude_deg,
        data.longitude_deg,
        data.time_zone,
        date.fromisoformat(data.date),
        min_sun_elevation_deg=data.min_sun_elevation_deg,
        dazzle=_dazzle(data),
    )
    found = [TimeWindow(start=one.start.isoformat(), end=one.end.isoformat()) for one in windows]
    return DriveWindowAnswer(windows=tuple(found))


def _dazzle(data: DriveWindowRequest) -> Dazzle | None:
    if data.road_heading_deg is None:
        return None
    return Dazzle(
        data.road_heading_deg,
        _given(data.dazzle_cone_deg, "dazzle_cone_deg"),
        _given(data.dazzle_max_elevation_deg, "dazzle_max_elevation_deg"),
    )


def _given(value_deg: float | None, field: str) -> float:
    if value_deg is None:
        detail = f"A road heading is given without {field}."
        raise InvalidValue(detail, pointer=f"/{field}", mend=f"Give {field}, or leave road_heading_deg out.")
    return value_deg


HANDLERS = [compute_drive_window]
