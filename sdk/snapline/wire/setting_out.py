"""Setting out with tapes: marks on the floor, an instrument, and the distances that fix a point."""

from typing import Annotated, Literal

from msgspec import Meta, field

from snapline.wire.common import Caution, Label, Length, Point, PositiveSize, Uncertainty, Wire

Blocker = Annotated[
    tuple[Point, ...],
    Meta(min_length=2, max_length=200, description="An outline, or the two ends of a wall."),
]


class FloorMark(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point marked on the floor; ``u_mm`` is its standard uncertainty along either axis."""

    x_mm: Length
    y_mm: Length
    u_mm: Uncertainty


class FloorPoint(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point on the floor."""

    x_mm: Length
    y_mm: Length


class Tape(Wire, frozen=True, kw_only=True):
    """What measures: a tape by its class (Directive 2014/32/EU, MI-008) or a laser meter by ``mpe_mm``.

    Exactly one of the two is given. ``length_mm`` is the longest distance measured in one go.
    """

    length_mm: PositiveSize
    class_: Literal["I", "II", "III"] | None = field(default=None, name="class")
    mpe_mm: PositiveSize | None = None


class PointTolerance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How far the point may be off, either way: along the critical direction, and across it."""

    critical_mm: PositiveSize
    other_mm: PositiveSize


class SettingOutRequest(Wire, frozen=True, kw_only=True):
    """Marks, the point to set out, and what may stand between.

    ``critical_direction`` is the one in which an error does most harm, of any length above zero. A tape along
    a blocker's edge is free. Pairs whose tapes meet at a sine below ``min_sin_angle`` are not used.
    """

    marks: Annotated[dict[Label, FloorMark], Meta(max_length=100)]
    target: FloorPoint
    critical_direction: Point
    tolerance: PointTolerance
    tape: Tape
    blockers: Annotated[tuple[Blocker, ...], Meta(max_length=200)] = ()
    min_sin_angle: Annotated[float, Meta(ge=0, le=1)] = 0.3


class SetDistance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A tape from a mark. Both distances of the pair may be off by the tolerance at once.

    The point then stays inside its own tolerance whatever the errors are (worst), or in 95 % of cases.
    """

    mark: Label
    distance_mm: float
    tolerance_worst_mm: float
    tolerance_95_mm: float


class CheckDistance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The third tape. ``u_mm`` is the standard uncertainty of the misclosure, measured minus computed."""

    mark: Label
    distance_mm: float
    u_mm: float


class RankedPair(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A pair of marks and how surely it sets out the point."""

    marks: tuple[Label, Label]
    u_critical_mm: float
    u_position_mm: float


class SettingOutAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The best pair of marks with its check; ``ranking`` has every pair, best first.

    ``u_critical_mm`` holds along the critical direction, ``u_position_mm`` is the root of the covariance's
    trace. Without a pair ``feasible`` is false and ``reasons`` name what is in the way.
    """

    feasible: bool
    distances: tuple[SetDistance, ...]
    check: CheckDistance | None
    u_critical_mm: float | None
    u_position_mm: float | None
    sin_angle: float | None
    ranking: tuple[RankedPair, ...]
    reasons: tuple[str, ...]
    cautions: tuple[Caution, ...] = ()
