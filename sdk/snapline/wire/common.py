"""Bases, measures and small shared values."""

from typing import Annotated

from msgspec import Meta, Struct


class Wire(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Base of everything on the wire. What is left out has its default."""


Id = Annotated[
    str,
    Meta(
        description="A stable name: lower case letters, digits, '-' and '_'.",
        pattern=r"^[a-z0-9][a-z0-9_-]*$",
        min_length=1,
        max_length=80,
    ),
]
Label = Annotated[str, Meta(min_length=1, max_length=120)]
Text = Annotated[str, Meta(min_length=1, max_length=2000)]
Day = Annotated[
    str,
    Meta(
        description="A calendar day, RFC 3339 full-date.",
        pattern=r"^\d{4}-\d{2}-\d{2}$",
        extra_json_schema={"format": "date"},
    ),
]
ModelYear = Annotated[int, Meta(ge=1950, le=2100)]

# One kilometre and one turn bound every length and angle: what lies beyond is a slip of the pen or of units.
Length = Annotated[float, Meta(ge=-1e6, le=1e6, description="Millimetres.")]
Size = Annotated[float, Meta(ge=0, le=1e6, description="Millimetres, not negative.")]
PositiveSize = Annotated[float, Meta(gt=0, le=1e6, description="Millimetres, above zero.")]
Angle = Annotated[float, Meta(ge=-360, le=360, description="Degrees.")]
PositiveAngle = Annotated[float, Meta(gt=0, lt=90, description="Degrees, above zero.")]
Uncertainty = Annotated[
    float, Meta(ge=0, le=1e6, description="Standard uncertainty (k = 1) in the unit of its quantity.")
]
Point = tuple[Length, Length]
Polygon = Annotated[tuple[Point, ...], Meta(min_length=3, max_length=200)]

SensorName = Annotated[str, Meta(min_length=1, max_length=80, pattern=r"^[A-Za-z0-9][A-Za-z0-9_.\-]*$")]


class Pose(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A place and three angles by ISO 8855: x forward, y left, z up; pitch positive nose down."""

    x_mm: float
    y_mm: float
    z_mm: float
    yaw_deg: float
    pitch_deg: float
    roll_deg: float


class BayPose(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Where the vehicle's own origin stands in the bay, and which way its x axis points."""

    x_mm: Length
    y_mm: Length
    heading_deg: Angle


class SourceRef(Wire, frozen=True, kw_only=True):
    """Where a statement is written, and who compared it with the document."""

    source: Id
    locator: Label
    checked_by: Label | None = None
    checked_on: Day | None = None


class Source(Wire, frozen=True, kw_only=True):
    """A document behind a requirement, as answers quote it."""

    id: Id
    title: Label
    edition: Label
    published_on: Day


class Caution(Wire, frozen=True, kw_only=True):
    """Something that can hurt a person or spoil the result, with a stable code."""

    code: str
    text: str
