"""Sites with their bays and physical fixtures."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from snapline.wire.catalogue import Format
from snapline.wire.common import Angle, Day, Id, Label, Length, Point, Polygon, PositiveSize, Size, Wire
from snapline.wire.vehicles import PageSize, PageToken

Surface = Literal["floor", "alignment_lift"]
Condition = Literal["in_service", "out_of_service"]
Latitude = Annotated[float, Meta(ge=-90, le=90, description="Degrees, north positive.")]
Longitude = Annotated[float, Meta(ge=-180, le=180, description="Degrees, east positive.")]
Illuminance = Annotated[float, Meta(ge=0, le=200000, description="Lux.")]
Headings = Annotated[tuple[Angle, ...], Meta(min_length=1, max_length=72)]
TimeZone = Annotated[
    str, Meta(min_length=1, max_length=120, description="A name of the IANA time zone database.")
]


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


SurveyPoints = Annotated[tuple[SurveyPoint, ...], Meta(min_length=3, max_length=2000)]
Obstacles = Annotated[tuple[Obstacle, ...], Meta(max_length=200)]
Doors = Annotated[tuple[Door, ...], Meta(max_length=50)]


class FloorSurvey(Wire, frozen=True, kw_only=True):
    """Levelled points with the standard uncertainty of each height."""

    surveyed_on: Day
    u_z_mm: PositiveSize
    points: SurveyPoints


class Bay(Wire, frozen=True, kw_only=True):
    """A floor area. The ring runs counter-clockwise in millimetres in the bay's own axes.

    Wall 0 runs from the ring's first corner to its second. ``headings_deg`` are those that a vehicle may
    face in the bay, counted from its x axis. ``ceiling_mm`` null: nobody has measured it.
    """

    id: Id
    name: Label
    surface: Surface
    ring: Polygon
    headings_deg: Headings
    obstacles: Obstacles = ()
    doors: Doors = ()
    ceiling_mm: PositiveSize | None = None
    light_min_lux: Illuminance | None = None
    light_max_lux: Illuminance | None = None
    floor: FloorSurvey | None = None


class BayList(Wire, frozen=True, kw_only=True):
    """All bays of a site, ordered by id."""

    items: tuple[Bay, ...]


class FloorSurveyPatch(Wire, frozen=True, kw_only=True):
    """What changes in a floor survey; its points are replaced as a whole."""

    surveyed_on: Day | UnsetType = UNSET
    u_z_mm: PositiveSize | UnsetType = UNSET
    points: SurveyPoints | UnsetType = UNSET


class BayPatch(Wire, frozen=True, kw_only=True):
    """What changes in a bay (RFC 7396): null removes, and a list is replaced as a whole."""

    name: Label | UnsetType = UNSET
    surface: Surface | UnsetType = UNSET
    ring: Polygon | UnsetType = UNSET
    headings_deg: Headings | UnsetType = UNSET
    obstacles: Obstacles | UnsetType | None = UNSET
    doors: Doors | UnsetType | None = UNSET
    ceiling_mm: PositiveSize | UnsetType | None = UNSET
    light_min_lux: Illuminance | UnsetType | None = UNSET
    light_max_lux: Illuminance | UnsetType | None = UNSET
    floor: FloorSurveyPatch | UnsetType | None = UNSET


class Asset(Wire, frozen=True, kw_only=True):
    """One physical fixture, as the file of its site lists it. ``checked_until`` null: it is not checked."""

    id: Id
    fixture: Id
    serial: Label
    condition: Condition
    checked_until: Day | None = None


class SiteAsset(Asset, frozen=True, kw_only=True):
    """One physical fixture and the site where it is. ``checked_until`` null: it is not checked."""

    site: Id


class AssetPatch(Wire, frozen=True, kw_only=True):
    """What changes in a physical fixture (RFC 7396): another ``site`` moves it, null removes."""

    site: Id | UnsetType = UNSET
    fixture: Id | UnsetType = UNSET
    serial: Label | UnsetType = UNSET
    condition: Condition | UnsetType = UNSET
    checked_until: Day | UnsetType | None = UNSET


class AssetQuery(Wire, frozen=True, kw_only=True):
    """Filters of the list of physical fixtures."""

    site: Id | None = None
    fixture: Id | None = None
    condition: Condition | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class AssetPage(Wire, frozen=True, kw_only=True):
    """One page of physical fixtures, ordered by id."""

    items: tuple[SiteAsset, ...]
    next_page_token: str | None = None


class Site(Wire, frozen=True, kw_only=True):
    """A workshop of the group: where it is, and by which clock it works."""

    id: Id
    name: Label
    time_zone: TimeZone
    latitude_deg: Latitude
    longitude_deg: Longitude
    invented: bool = False


class SitePatch(Wire, frozen=True, kw_only=True):
    """What changes in a site (RFC 7396)."""

    name: Label | UnsetType = UNSET
    time_zone: TimeZone | UnsetType = UNSET
    latitude_deg: Latitude | UnsetType = UNSET
    longitude_deg: Longitude | UnsetType = UNSET
    invented: bool | UnsetType | None = UNSET


class SiteQuery(Wire, frozen=True, kw_only=True):
    """Which page of the list of sites."""

    page_size: PageSize = 50
    page_token: PageToken | None = None


class SitePage(Wire, frozen=True, kw_only=True):
    """One page of sites, ordered by id."""

    items: tuple[Site, ...]
    next_page_token: str | None = None


class SiteDocument(Site, frozen=True, kw_only=True, tag_field="kind", tag="site"):
    """A site with its bays and physical fixtures, as one file."""

    format: Format
    bays: tuple[Bay, ...] = ()
    assets: tuple[Asset, ...] = ()
