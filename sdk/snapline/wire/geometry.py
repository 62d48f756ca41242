"""Vehicle geometry, placements, and the calculators that need no catalogue.

Axes by ISO 8855: x forward, y left, z up, origin on the floor below the midpoint of the rear axle; yaw
positive counter-clockwise seen from above.
"""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import (
    Angle,
    BayPose,
    Caution,
    Length,
    Pose,
    PositiveAngle,
    PositiveSize,
    SensorName,
    Size,
    Uncertainty,
    Wire,
)

AimLine = Annotated[
    str,
    Meta(
        description="centreline, thrust_line or sensor:NAME.",
        pattern=r"^(centreline|thrust_line|sensor:.+)$",
        max_length=100,
    ),
]
AlongDatum = Annotated[
    str,
    Meta(
        description="front_bumper, rear_bumper, front_axle, rear_axle, wheel:… or sensor:NAME.",
        pattern=(r"^((front|rear)_(bumper|axle)|wheel:(front|rear)_(left|right)|sensor:.+)$"),
        max_length=100,
    ),
]
LateralDatum = Annotated[
    str,
    Meta(
        description="aim_line, centreline, wheel:… or sensor:NAME.",
        pattern=r"^(aim_line|centreline|wheel:(front|rear)_(left|right)|sensor:.+)$",
        max_length=100,
    ),
]
HeightDatum = Annotated[
    str,
    Meta(description="floor or sensor:NAME.", pattern=r"^(floor|sensor:.+)$", max_length=100),
]


class Sensor(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Where a sensor sits in the vehicle and which way it looks."""

    x_mm: Length
    y_mm: Length
    z_mm: Length
    yaw_deg: Angle = 0.0
    pitch_deg: Angle = 0.0


class Along(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A distance in the aim direction from a datum; negative is behind it."""

    datum: AlongDatum
    distance_mm: Length


class Lateral(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A distance to the left of the aim direction from a datum; negative is to the right."""

    datum: LateralDatum
    distance_mm: Length


class Height(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A distance upwards from a datum."""

    datum: HeightDatum
    distance_mm: Length


class Placement(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Where a fixture's reference point stands. Angles are relative to the aim line.

    Facing the car, the yaw is 180 ahead of it, 0 behind, −90 on its left and +90 on its right.
    """

    aim_line: AimLine
    along: Along
    lateral: Lateral
    height: Height
    yaw_deg: Angle = 0.0
    pitch_deg: Angle = 0.0
    roll_deg: Angle = 0.0


class VehicleGeometry(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The dimensions that placements are counted from."""

    wheelbase_mm: PositiveSize
    front_track_mm: PositiveSize
    rear_track_mm: PositiveSize
    front_overhang_mm: Size
    rear_overhang_mm: Size
    width_mm: PositiveSize
    thrust_yaw_deg: Angle = 0.0
    sensors: dict[SensorName, Sensor] = {}


class KnownGeometry(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The dimensions that a setup was computed from; null where nobody has given one."""

    wheelbase_mm: float | None
    front_track_mm: float | None
    rear_track_mm: float | None
    front_overhang_mm: float | None
    rear_overhang_mm: float | None
    width_mm: float | None
    thrust_yaw_deg: float
    sensors: dict[SensorName, Sensor]


UncertaintyByInput = Annotated[
    dict[str, Uncertainty],
    Meta(
        max_length=200,
        description="Standard uncertainty by input, for example 'vehicle.wheelbase_mm' or 'bay_pose.x_mm'.",
    ),
]


class PlacementRequest(Wire, frozen=True, kw_only=True):
    """A vehicle and one placement sentence."""

    vehicle: VehicleGeometry
    placement: Placement
    bay_pose: BayPose | None = None
    standard_uncertainty: UncertaintyByInput | None = None


class Contribution(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One input's share of the covariance's trace; the shares add to 1."""

    input: str
    share: float


class PlacementAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Where the reference point comes to stand, and how surely."""

    in_vehicle: Pose
    in_bay: Pose | None
    covariance_xy_mm2: tuple[tuple[float, float], tuple[float, float]] | None
    contributions: tuple[Contribution, ...] | None
    u_z_mm: float | None = None
    u_yaw_deg: float | None = None
    cautions: tuple[Caution, ...] = ()


REFLECTOR_SHAPES = ("trihedral_triangular", "trihedral_square", "dihedral", "plate")
ReflectorShape = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": list(REFLECTOR_SHAPES)})]


class ReflectorRequest(Wire, frozen=True, kw_only=True):
    """A radar reflector: leg for trihedrals (apex to corner), width and height for dihedral and plate."""

    shape: ReflectorShape
    frequency_ghz: Annotated[float, Meta(gt=0, le=1000)]
    leg_mm: PositiveSize | None = None
    width_mm: PositiveSize | None = None
    height_mm: PositiveSize | None = None


class ReflectorAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Peak radar cross-section in the far field at one frequency. At 2–4 m it is a nominal figure."""

    rcs_m2: float
    rcs_dbsm: float
    wavelength_mm: float


class SpacePoint(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point in the vehicle frame."""

    x_mm: Length
    y_mm: Length
    z_mm: Length


class AimToleranceRequest(Wire, frozen=True, kw_only=True):
    """A sensor, the nominal place of what it is aimed at, and the aim error it allows."""

    sensor: Sensor
    nominal: SpacePoint
    allowed_yaw_deg: PositiveAngle
    allowed_elevation_deg: PositiveAngle | None = None


class AimTolerance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How far the fixture may stand off along each axis by itself; null where that axis never uses it up.

    Along and lateral are relative to the sensor's aim direction.
    """

    along_mm: float | None
    lateral_mm: float | None
    height_mm: float | None
