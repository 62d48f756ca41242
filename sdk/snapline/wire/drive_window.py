"""When the sun lets the on-road part of a calibration be driven. Headings count clockwise from north."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Angle, Day, Wire

Elevation = Annotated[float, Meta(ge=-90, le=90, description="Degrees above the horizon.")]


class DriveWindowRequest(Wire, frozen=True, kw_only=True):
    """A place, a local day and what the sun may do. Latitude is positive north, longitude positive east.

    Elevations are those of the sun's centre without refraction: sunrise and sunset are at −0.833. The sun
    dazzles when its angle in space from the level road heading is below ``dazzle_cone_deg`` and its elevation
    below ``dazzle_max_elevation_deg``; both are needed with a heading, and without one it never dazzles.
    """

    latitude_deg: Annotated[float, Meta(ge=-90, le=90)]
    longitude_deg: Annotated[float, Meta(ge=-180, le=180)]
    time_zone: Annotated[
        str, Meta(description="A name of the IANA time zone database.", min_length=1, max_length=64)
    ]
    date: Day
    min_sun_elevation_deg: Elevation
    road_heading_deg: Angle | None = None
    dazzle_cone_deg: Annotated[float, Meta(ge=0, le=180)] | None = None
    dazzle_max_elevation_deg: Elevation | None = None


class TimeWindow(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A stretch of time, RFC 3339 with the zone's offset, to the second."""

    start: str
    end: str


class DriveWindowAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The windows of the local day in order; none in polar night, the whole day in polar day."""

    windows: tuple[TimeWindow, ...]
