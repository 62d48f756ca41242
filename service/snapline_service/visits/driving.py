"""When the on-road part of a procedure can be driven at a site on a day."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from snapline.wire.catalogue import DriveConditions, Procedure
from snapline.wire.sites import SiteDocument
from snapline.wire.visits import Blocker, DayWindow, PlannedDrive, VisitRequest, VisitStep
from snapline_service.planning.drive_window import Dazzle, Window, daylight_windows
from snapline_service.visits.stock import Lack

# Sunrise and sunset by definition: the centre of the disc 50 minutes of arc below the horizon.
_SUNRISE_DEG = -0.833
# Common practice, no source: the sun blinds below 15° of elevation within 25° of the way ahead.
_DAZZLE_CONE_DEG = 25.0
_DAZZLE_MAX_ELEVATION_DEG = 15.0


def windows(
    site: SiteDocument, conditions: DriveConditions, request: VisitRequest
) -> tuple[Window, ...] | None:
    """Return the windows of light that the catalogue asks for, or None where it limits no light."""
    if conditions.light != "daylight":
        return None
    least_deg = conditions.min_sun_elevation_deg
    return _windows(
        (site.latitude_deg, site.longitude_deg, site.time_zone),
        request.date,
        _SUNRISE_DEG if least_deg is None else least_deg,
        request.road_heading_deg,
    )


@lru_cache(maxsize=512)
def _windows(
    place: tuple[float, float, str], day: str, least_deg: float, heading_deg: float | None
) -> tuple[Window, ...]:
    dazzle = None if heading_deg is None else Dazzle(heading_deg, _DAZZLE_CONE_DEG, _DAZZLE_MAX_ELEVATION_DEG)
    return daylight_windows(*place, date.fromisoformat(day), min_sun_elevation_deg=least_deg, dazzle=dazzle)


def too_dark(procedure: Procedure, site: SiteDocument, request: VisitRequest) -> list[Lack]:
    """Return what stops a drive for which no window of the whole day is long enough."""
    found = windows(site, procedure.drive, request) if procedure.drive else None
    needed = timedelta(minutes=procedure.duration_min)
    if found is None or any(window.end - window.start >= needed for window in found):
        return []
    lacking = f"no {procedure.duration_min:g} minutes of the light that it asks for on {request.date}"
    text = f"{procedure.name}: {site.name} has {lacking}."
    return [Lack((Blocker(kind="no_daylight", text=text, subject=None, procedure=procedure.id),))]


def drives(
    steps: Sequence[VisitStep], procedures: Sequence[Procedure], site: SiteDocument, request: VisitRequest
) -> tuple[PlannedDrive, ...]:
    """Return every drive of a timeline with its windows, and whether it falls into one of them."""
    by_id = {procedure.id: procedure for procedure in procedures}
    return tuple(
        _drive(step, by_id[step.procedure].drive, site, request)  # type: ignore[arg-type] # a dynamic procedure has one
        for step in steps
        if step.kind == "procedure" and step.procedure and by_id[step.procedure].drive
    )


def _drive(
    step: VisitStep, conditions: DriveConditions, site: SiteDocument, request: VisitRequest
) -> PlannedDrive:
    found = windows(site, conditions, request)
    inside = None if found is None else _inside(step, found, site, request)
    return PlannedDrive(
        procedure=step.procedure or "",
        conditions=conditions,
        windows=None if found is None else tuple(_day_window(window) for window in found),
        starts_at=step.starts_at,
        inside_window=inside,
        text=_text(found, inside=inside),
    )


def _inside(step: VisitStep, found: Sequence[Window], site: SiteDocument, request: VisitRequest) -> bool:
    midnight = datetime.combine(date.fromisoformat(request.date), time(), ZoneInfo(site.time_zone))
    hours, _, minutes = request.start.partition(":")
    begin = midnight + timedelta(hours=int(hours), minutes=int(minutes))
    first, last = (begin + timedelta(minutes=at_min) for at_min in (step.start_min, step.end_min))
    return any(window.start <= first and last <= window.end for window in found)


def _text(found: Sequence[Window] | None, *, inside: bool | None) -> str:
    if found is None:
        return "No light is asked for."
    spans = " and ".join(f"{window.start:%H:%M} to {window.end:%H:%M}" for window in found) or "at no time"
    said = f"Drive in daylight: {spans}."
    return (
        said if inside else f"{said} The planned drive falls outside: begin earlier, or drive on another day."
    )


def _day_window(window: Window) -> DayWindow:
    return DayWindow(start=window.start.isoformat(), end=window.end.isoformat())
