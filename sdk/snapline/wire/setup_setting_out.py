"""Setting-out within a setup: marks on the floor, and tapes to every foot of every fixture.

What ends in ``_text``, and ``words``, ``how`` and ``side``, is for printing in the units asked for and has no
sign. Uncertainties are standard ones (k = 1) of a place relative to where the source wants it.
"""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.common import Angle, Label, Length, SensorName, Text, Uncertainty, Wire

Units = Literal["mm", "in"]
MARK_KINDS = ("wheel", "bumper", "line", "offset", "set_out", "given")
MarkKind = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": list(MARK_KINDS)})]
Axis = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": ["along", "lateral", "yaw"]})]
Covariance = tuple[tuple[float, float], tuple[float, float]]


class GivenMark(Wire, frozen=True, kw_only=True):
    """A mark that a person made or measured, in the vehicle's axes, with its standard uncertainty per axis.

    It replaces the mark of the same name, or is one more.
    """

    x_mm: Length
    y_mm: Length
    u_mm: Uncertainty
    how: Text | None = None


class RearToe(Wire, frozen=True, kw_only=True):
    """Toe of the rear wheels, toe-in positive on both sides; ``u_deg`` is that of one wheel.

    The thrust line is turned by (right − left) / 2, positive to the left (ISO 8855). Print-outs that give a
    thrust angle usually count it positive to the right: give the two toes, and the sign is settled.
    """

    left_deg: Angle
    right_deg: Angle
    u_deg: Uncertainty | None = None


class SetupMark(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point on the floor that tapes are hooked to, with how to make it; ``made_from`` names other marks."""

    name: Label
    short: Label
    kind: MarkKind
    x_mm: float
    y_mm: float
    u_mm: float
    covariance_xy_mm2: Covariance
    how: str
    made_from: tuple[Label, ...]


class TapeDistance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A distance from a mark: exact, as printed, and how far both of a pair may be off at once.

    ``tolerance_mm`` holds whatever the errors of all the fixture's points are, ``tolerance_95_mm`` for this
    point in 95 % of cases; null where nothing limits them.
    """

    mark: Label
    distance_mm: float
    printed_mm: float
    text: str
    tolerance_mm: float | None
    tolerance_95_mm: float | None
    tolerance_text: str | None
    u_mm: float


class CheckTape(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The third tape. A right setting-out is within ``permitted_mm`` of it in 95 of 100 cases (1.96 u)."""

    mark: Label
    distance_mm: float
    printed_mm: float
    text: str
    permitted_mm: float
    permitted_text: str
    u_mm: float


class LineFigures(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The same point along and beside the drawn aim line, for those who snap chalk or shine a laser.

    ``marks`` are the two that the line is drawn through, the one behind the car first.
    """

    marks: tuple[Label, Label]
    along_mm: float
    along_text: str
    offset_mm: float
    offset_text: str
    u_along_mm: float
    u_offset_mm: float
    words: str


class PointSettingOut(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One point of a fixture on the floor, set out by two tapes and checked by a third.

    The critical direction is the one in which an error does most harm. Without a pair ``reasons`` say why.
    """

    name: Label
    x_mm: float
    y_mm: float
    critical: str
    distances: tuple[TapeDistance, ...]
    check: CheckTape | None
    side: str | None
    u_critical_mm: float | None
    u_position_mm: float | None
    sin_angle: float | None
    tolerance_critical_mm: float | None
    tolerance_other_mm: float | None
    from_line: LineFigures | None
    reasons: tuple[str, ...]


class DiagonalCheck(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Two distances that are equal when a symmetric fixture stands square on the centreline.

    ``permitted_mm`` is the difference that one axis alone makes at its tolerance.
    """

    marks: tuple[Label, Label]
    points: tuple[Label, Label]
    distance_mm: float
    printed_mm: float
    text: str
    permitted_mm: float | None
    permitted_text: str | None
    u_mm: float
    words: str


class AimUncertainty(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How surely the sensor will be aimed: bearing and elevation of the reference point, seen from it."""

    sensor: SensorName
    u_yaw_deg: float
    u_elevation_deg: float | None


class AxisProof(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Whether an axis can be proven inside: ``acceptance`` = tolerance − 1.645 u, null if nothing is left."""

    axis: Axis
    unit: Literal["mm", "deg"]
    tolerance: float
    u: float
    acceptance: float | None


class FixtureSettingOut(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How a fixture is set out, how surely it then stands, and whether that can prove its tolerance.

    ``provable`` is null where it cannot be told: ``uncertainty_not_stated`` names inputs that count as exact
    because nobody said how surely they are known. ``what_would_do`` was tried, not guessed.
    """

    points: tuple[PointSettingOut, ...]
    diagonals: DiagonalCheck | None
    u_along_mm: float | None
    u_lateral_mm: float | None
    u_yaw_deg: float | None
    aim: AimUncertainty | None
    proofs: tuple[AxisProof, ...]
    provable: bool | None
    words: str
    what_would_do: tuple[str, ...]
    uncertainty_not_stated: tuple[str, ...]
