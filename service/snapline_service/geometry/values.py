"""What goes into the geometry and what comes out, with the names that the wire uses.

Lengths are in mm and angles in degrees. Vehicle axes are those of ISO 8855 (x forward, y left, z up from
the plane of the tyre contacts); their origin lies below the midpoint of the rear axle.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

Point = tuple[float, float]
Polygon = tuple[Point, ...]


class Located(Protocol):
    """Anything with a place in three dimensions."""

    @property
    def x_mm(self) -> float: ...  # noqa: D102 - the name says it
    @property
    def y_mm(self) -> float: ...  # noqa: D102
    @property
    def z_mm(self) -> float: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Position:
    """A bare place, without a direction."""

    x_mm: float
    y_mm: float
    z_mm: float


@dataclass(frozen=True, slots=True)
class Sensor:
    """Where a sensor sits in the vehicle frame and which way it looks (yaw positive to the left)."""

    x_mm: float
    y_mm: float
    z_mm: float
    yaw_deg: float = 0.0
    pitch_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class VehicleGeometry:
    """The dimensions that placements refer to; None is a dimension that nobody has given.

    Overhangs run from the axle to the outermost point of the body without number plate. A positive
    ``thrust_yaw_deg`` turns the thrust line to the left.
    """

    wheelbase_mm: float | None = None
    front_track_mm: float | None = None
    rear_track_mm: float | None = None
    front_overhang_mm: float | None = None
    rear_overhang_mm: float | None = None
    width_mm: float | None = None
    thrust_yaw_deg: float = 0.0
    sensors: Mapping[str, Sensor] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Offset:
    """A signed distance counted from a named datum."""

    datum: str
    distance_mm: float


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a fixture's reference point stands; the angles are relative to the aim line.

    ``along`` is positive in the aim direction, ``lateral`` to its left, ``height`` upwards.
    """

    aim_line: str
    along: Offset
    lateral: Offset
    height: Offset
    yaw_deg: float = 0.0
    pitch_deg: float = 0.0
    roll_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Pose:
    """A place and an attitude, absolute in its frame, angles in (-180, 180].

    Yaw is positive counter-clockwise from above, pitch nose down, roll left side up.
    """

    x_mm: float
    y_mm: float
    z_mm: float
    yaw_deg: float
    pitch_deg: float
    roll_deg: float


@dataclass(frozen=True, slots=True)
class BayPose:
    """Where the vehicle's own axes lie in the bay."""

    x_mm: float
    y_mm: float
    heading_deg: float


@dataclass(frozen=True, slots=True)
class Contribution:
    """The share of one input in the trace of a covariance."""

    input: str
    share: float


@dataclass(frozen=True, slots=True)
class Placed:
    """A placement worked out.

    Covariance, ``u_z_mm`` and ``u_yaw_deg`` (k = 1) belong to the bay frame if there is one, else to the
    vehicle frame, and are None when no uncertainty was given. ``contributions`` start with the largest and
    add to 1; they are None when nothing was given or nothing given moves the point.
    """

    in_vehicle: Pose
    in_bay: Pose | None
    covariance_xy_mm2: tuple[tuple[float, float], tuple[float, float]] | None
    contributions: tuple[Contribution, ...] | None
    u_z_mm: float | None
    u_yaw_deg: float | None
