"""Bay fit: whether and where in a bay there is room for a vehicle and everything that is done with it.

Bay axes: x and y in mm, headings in degrees from the bay's x axis, positive counter-clockwise. Parts are in
the vehicle's own axes by ISO 8855.
"""

from typing import Annotated, Literal

from msgspec import Meta, field

from snapline.wire.common import Angle, BayPose, Label, Point, Polygon, PositiveSize, Size, Wire

PartKind = Literal["solid", "clear_zone", "walking_margin"]


class FitDoor(Wire, frozen=True, kw_only=True):
    """An opening in a wall between two of its points. Only an open one lets anything through."""

    start: Point = field(name="from")
    end: Point = field(name="to")
    open: bool = False


class HeightSpan(Wire, frozen=True, kw_only=True):
    """From which height to which something stands or hangs; without a top it reaches up to the ceiling."""

    z_min_mm: Size = 0.0
    z_max_mm: Size | None = None


class FitBay(Wire, frozen=True, kw_only=True):
    """A floor area. Wall 0 runs from the ring's first corner to its second; the ring may run either way.

    ``obstacle_heights`` are those of ``obstacles``, one each; without them all reach from floor to ceiling.
    """

    ring: Polygon
    obstacles: Annotated[tuple[Polygon, ...], Meta(max_length=200)] = ()
    doors: Annotated[tuple[FitDoor, ...], Meta(max_length=50)] = ()
    obstacle_heights: Annotated[tuple[HeightSpan, ...], Meta(max_length=200)] | None = None
    ceiling_mm: PositiveSize | None = None


class FitPart(Wire, frozen=True, kw_only=True):
    """A convex polygon that takes up room, in the vehicle's axes.

    A ``clear_zone`` may reach out through an open door; ``solid`` and ``walking_margin`` may not.
    """

    name: Label
    kind: PartKind
    polygon: Polygon
    z_min_mm: Size = 0.0
    z_max_mm: Size | None = None


class FitProcedure(Wire, frozen=True, kw_only=True):
    """Everything that takes up room while one procedure is done, the vehicle included."""

    name: Label
    parts: Annotated[tuple[FitPart, ...], Meta(min_length=1, max_length=100)]


class BayFitRequest(Wire, frozen=True, kw_only=True):
    """A bay, the directions in which the vehicle may face, and the procedures to be done in it."""

    bay: FitBay
    headings_deg: Annotated[tuple[Angle, ...], Meta(min_length=1, max_length=72)]
    procedures: Annotated[tuple[FitProcedure, ...], Meta(min_length=1, max_length=40)]


class FitStand(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A pose of the vehicle's own axes in the bay, and the procedures that are done there."""

    x_mm: float
    y_mm: float
    heading_deg: float
    procedures: tuple[str, ...]


class FitCause(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The part that is in the way."""

    procedure: str
    part: str


class FitShortfall(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How far one wall by itself would have to move outward. ``outward`` is its unit normal."""

    wall: int
    outward: tuple[float, float]
    missing_mm: float
    because: FitCause


class BayFitAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Whether all procedures can be done at one pose; if not, the fewest poses and what would help.

    ``margin_mm`` is the least distance from any part to a wall or obstacle at ``pose``, the greatest that any
    pose gives within 1 % (a wall's very flat corners count as straight in the search, never in the answer).
    ``shortfall`` is told only without one pose, for every wall whose moving helps, and
    ``obstacles_to_clear`` are the indices of those of which removing any one suffices. ``notes`` say what may
    be mistaken in the question, such as a ring in another unit.
    """

    one_pose: bool
    pose: BayPose | None
    margin_mm: float | None
    poses: tuple[FitStand, ...]
    unservable: tuple[str, ...]
    shortfall: tuple[FitShortfall, ...]
    obstacles_to_clear: tuple[int, ...]
    notes: tuple[str, ...] = ()
