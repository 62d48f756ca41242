"""What is asked of a bay and what is answered: lengths in mm, angles in degrees, heights above the floor."""

from dataclasses import dataclass
from typing import Literal

from snapline_service.geometry.values import BayPose, Point, Polygon

# What touches fits: overlap up to this, at each contact, is rounding. Less than 0.5 mm decides nothing.
CONTACT_MM = 0.1
# Farther than any length that can be asked about.
FAR_MM = 2_000_000.0

# solid: car, fixtures and whatever else stands there; walking_margin: room for a person; clear_zone: nothing
# may stand in it, but it may reach out through an open door; way_in: the strip along which the car comes in,
# through any door.
Kind = Literal["solid", "clear_zone", "walking_margin", "way_in"]


@dataclass(frozen=True, slots=True)
class Part:
    """A convex polygon in the vehicle frame; without a top it reaches up to the ceiling."""

    name: str
    kind: Kind
    polygon: Polygon
    z_min_mm: float = 0.0
    z_max_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Sliding:
    """Parts that stand anywhere between where they are given and there plus ``by_mm``, all together.

    This is a placement with a range of distance: the fixture, its feet and the room to walk round it.
    """

    name: str
    parts: tuple[Part, ...]
    by_mm: Point


@dataclass(frozen=True, slots=True)
class Procedure:
    """Everything that takes up room while one procedure is done.

    Of ``ways_in`` at least one must be free, if there is any.
    """

    name: str
    parts: tuple[Part, ...]
    sliding: tuple[Sliding, ...] = ()
    ways_in: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that stands or hangs in a bay, convex or not; without a top it reaches up to the ceiling."""

    polygon: Polygon
    z_min_mm: float = 0.0
    z_max_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Door:
    """An opening in a wall between two points of it."""

    start: Point
    end: Point
    open: bool = False


@dataclass(frozen=True, slots=True)
class Bay:
    """A floor area. Wall n runs from corner n of the ring to the next; the ring runs either way round."""

    ring: Polygon
    obstacles: tuple[Obstacle, ...] = ()
    doors: tuple[Door, ...] = ()
    ceiling_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Slid:
    """Where in its range something stands: 0 as it was given, 1 moved by the whole of ``by_mm``."""

    procedure: str
    name: str
    share: float


@dataclass(frozen=True, slots=True)
class Stand:
    """A pose of the vehicle's own axes in the bay, the procedures done there, and the room to spare."""

    x_mm: float
    y_mm: float
    heading_deg: float
    procedures: tuple[str, ...]
    margin_mm: float
    slid: tuple[Slid, ...] = ()


@dataclass(frozen=True, slots=True)
class Cause:
    """The part that is in the way."""

    procedure: str
    part: str


@dataclass(frozen=True, slots=True)
class Shortfall:
    """How far one wall by itself would have to move outward, and the part that then touches it."""

    wall: int
    outward: Point
    missing_mm: float
    because: Cause


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether all procedures can be done at one pose, and if not, what would help.

    ``margin_mm`` is the least distance from any part to a wall or obstacle at ``pose``, the greatest that any
    pose gives; None without one. ``notes`` say what may be mistaken in the question.
    """

    one_pose: bool
    pose: BayPose | None
    margin_mm: float | None
    poses: tuple[Stand, ...]
    unservable: tuple[str, ...]
    shortfall: tuple[Shortfall, ...]
    obstacles_to_clear: tuple[int, ...]
    notes: tuple[str, ...] = ()
