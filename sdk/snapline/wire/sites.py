"""Sites with their bays and physical fixtures."""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.catalogue import Format
from snapline.wire.common import Angle, Day, Id, Label, Length, Point, Polygon, PositiveSize, Size, Wire


class Obstacle(Wire, frozen=True, kw_only=True):
    """Something in a bay that stands or hangs, between two heights above the floor."""

    name: Label
    polygon: Polygon
    z_min_mm: Size = 0.0
    z_max_mm: Size | None = None


class Door(Wire, frozen=True, kw_only=True):
    """An opening in a bay's outline between two points of it."""

    name: Label
    start: Point
    end: Point


class SurveyPoint(Wire, frozen=True, kw_only=True):
    """A levelled point of the floor, height positive upwards."""

    x_mm: Length
    y_mm: Length
    z_mm: Length


class FloorSurvey(Wire, frozen=True, kw_only=True):
    """Levelled points with the standard uncertainty of each height."""

    surveyed_on: Day
    u_z_mm: PositiveSize
    points: Annotated[tuple[SurveyPoint, ...], Meta(min_length=3)]


class Bay(Wire, frozen=True, kw_only=True):
    """A floor area. The ring runs counter-clockwise in millimetres in the bay's own axes."""

    id: Id
    name: Label
    surface: Literal["floor", "alignment_lift"]
    ring: Polygon
    headings_deg: Annotated[tuple[Angle, ...], Meta(min_length=1)]
    obstacles: tuple[Obstacle, ...] = ()
    doors: tuple[Door, ...] = ()
    ceiling_mm: PositiveSize | None = None
    light_min_lux: Annotated[float, Meta(ge=0, le=200000)] | None = None
    light_max_lux: Annotated[float, Meta(ge=0, le=200000)] | None = None
    floor: FloorSurvey | None = None


class Asset(Wire, frozen=True, kw_only=True):
    """One physical fixture."""

    id: Id
    fixture: Id
    serial: Label
    condition: Literal["in_service", "out_of_service"]
    checked_until: Day | None = None


class SiteDocument(Wire, frozen=True, kw_only=True, tag_field="kind", tag="site"):
    """A workshop of the group."""

    format: Format
    id: Id
    name: Label
    time_zone: Label
    latitude_deg: Annotated[float, Meta(ge=-90, le=90)]
    longitude_deg: Annotated[float, Meta(ge=-180, le=180)]
    invented: bool = False
    bays: tuple[Bay, ...] = ()
    assets: tuple[Asset, ...] = ()
