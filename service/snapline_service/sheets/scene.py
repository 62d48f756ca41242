"""What one plan view shows: a vehicle, one stage's fixtures and the words that go with them.

Everything is in the vehicle's own axes by ISO 8855 in millimetres: x forward, y left, origin on the floor
below the midpoint of the rear axle; directions in degrees, counter-clockwise from straight ahead, seen from
above. Words come ready made: a sheet shows 'behind' and 'right', never a signed number.
"""

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class VehicleOutline:
    """The dimensions that the vehicle is drawn from."""

    wheelbase_mm: float
    front_track_mm: float
    rear_track_mm: float
    front_overhang_mm: float
    rear_overhang_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class SensorView:
    """A sensor and the way it looks."""

    name: str
    x_mm: float
    y_mm: float
    looking_deg: float


@dataclass(frozen=True, slots=True)
class AimLine:
    """A line that placements are counted along. A sensor's own axis ``starts_at_point``."""

    name: str
    x_mm: float
    y_mm: float
    direction_deg: float
    starts_at_point: bool = False


@dataclass(frozen=True, slots=True)
class Distance:
    """A distance to tape, from a point on its datum to the point level with the fixture's reference point.

    ``start`` lies on the datum. For the along distance ``end`` is the foot of the reference point on the line
    through ``start`` in the aim direction; for the lateral distance it is the reference point itself.
    ``text`` is the whole statement, '1,500 mm ahead of front bumper'. Where start and end coincide only the
    text shows.
    """

    start: Point
    end: Point
    text: str


@dataclass(frozen=True, slots=True)
class Foot:
    """A floor contact of a fixture."""

    name: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A point marked on the floor that tapes are hooked to; ``name`` is short, a letter."""

    name: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class FixtureView:
    """One fixture in its place. ``facing_deg`` is None for one without a front; ``notes`` close its label."""

    label: str
    reference: Point
    facing_deg: float | None = None
    along: Distance | None = None
    lateral: Distance | None = None
    height_text: str = ""
    notes: tuple[str, ...] = ()
    footprint: tuple[Point, ...] = ()
    feet: tuple[Foot, ...] = ()
    clear_zone: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Extent:
    """The rectangle along the vehicle's axes whose length and width are dimensioned as the room needed."""

    x_min_mm: float
    x_max_mm: float
    y_min_mm: float
    y_max_mm: float


@dataclass(frozen=True, slots=True)
class PlanScene:
    """One stage as one sheet. The first title line is the heading.

    ``tapes`` run from a mark to a foot.
    ``banner`` is printed large ('INVENTED DATA'); ``stops`` say why work must not begin; ``warnings`` what
    was assumed, or that nobody compared with its source.
    """

    title_lines: tuple[str, ...]
    vehicle: VehicleOutline
    fixtures: tuple[FixtureView, ...]
    extent: Extent
    sensors: tuple[SensorView, ...] = ()
    aim_lines: tuple[AimLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    tapes: tuple[tuple[Point, Point], ...] = ()
    revision_text: str = ""
    banner: str = ""
    stops: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
