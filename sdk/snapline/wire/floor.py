"""The floor under a vehicle and a fixture: heights positive upwards unless read off a staff."""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.common import Length, Uncertainty, Wire
from snapline.wire.geometry import SpacePoint

Rate = Annotated[float, Meta(gt=0, le=1e6, description="Wheel rate, in any unit that all four wheels share.")]
Readings = Annotated[
    Literal["height", "staff"],
    Meta(
        description="height: z counts upwards; staff: z is what a level reads on a staff, more where it is "
        "lower."
    ),
]
DinRow = Annotated[
    Literal[1, 2, 3, 4], Meta(description="Row of DIN 18202 table 3 that the floor is held against.")
]


class FloorContact(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Where a tyre stands: x and y in the vehicle frame, z as read."""

    x_mm: Length
    y_mm: Length
    z_mm: Length
    rate: Rate = 1.0


class FloorContacts(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The four tyre contacts."""

    front_left: FloorContact
    front_right: FloorContact
    rear_left: FloorContact
    rear_right: FloorContact


class LevelledPoint(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point of the floor: x and y in the vehicle frame, z as read."""

    x_mm: Length
    y_mm: Length
    z_mm: Length


class FloorRequest(Wire, frozen=True, kw_only=True):
    """Readings at tyres and feet, and a target's nominal place above the vehicle's plane.

    It works the same with the wheels on turntables or on a lift: one level's readings for all points.
    ``u_z_mm`` is the standard uncertainty of each reading. ``e1155m_lines_mm`` are lines of heights at every
    300 mm whose curvature is wanted.
    """

    wheels: FloorContacts
    feet: Annotated[tuple[LevelledPoint, ...], Meta(min_length=1, max_length=50)]
    target: SpacePoint
    u_z_mm: Uncertainty | None = None
    readings: Readings = "height"
    din_18202_row: DinRow | None = None
    e1155m_lines_mm: Annotated[
        tuple[Annotated[tuple[Length, ...], Meta(min_length=3, max_length=1000)], ...], Meta(max_length=50)
    ] = ()


class RoomPoint(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point in the room: z plumb, x and y level and over the vehicle's own at its origin."""

    x_mm: float
    y_mm: float
    z_mm: float


class LevelShift(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How far the target moves level, forward and to the left, because the vehicle's plane leans."""

    x_mm: float
    y_mm: float


class FloorTilt(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How the plane of the feet leans against the vehicle's plane: nose down, left up, and altogether."""

    pitch_deg: float
    roll_deg: float
    angle_deg: float


class FloorUncertainty(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The standard uncertainty (k = 1) of each figure, to first order in the readings."""

    vehicle_pitch_deg: float
    vehicle_roll_deg: float
    target_in_room: RoomPoint
    height_setting_mm: float
    height_error_if_ignored_mm: float
    slope_mm_per_m: float
    warp_mm: float
    flatness_mm: float
    fixture_tilt: FloorTilt | None


class PairOfPoints(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Two points, how far apart they are, and how unevenly they may and do lie."""

    points: tuple[str, str]
    distance_mm: float
    limit_mm: float
    deviation_mm: float
    met: bool


class Din18202(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Every pair of points against DIN 18202 table 3, the nearest to its limit first."""

    row: int
    met: bool
    pairs: tuple[PairOfPoints, ...]


class E1155mLine(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The curvatures q of a line after ASTM E1155M, their mean and standard deviation (n − 1)."""

    curvatures_mm: tuple[float, ...]
    mean_mm: float
    standard_deviation_mm: float | None


class FloorAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the floor does to the vehicle and to the target's height.

    Pitch (positive nose down) and roll (positive left side up) are against gravity; the slope is that of the
    vehicle's plane. ``height_setting_mm`` is the height to set above the plane of the feet, plumb; two feet
    or feet in a line count as level across, one foot as level. ``height_error_if_ignored_mm`` is the nominal
    height minus it. ``warp_mm`` is the front left contact minus the vehicle's plane, ``flatness_mm`` the
    minimum zone, in z, of all contacts and feet. The tilt is null where the feet span no plane.
    """

    vehicle_pitch_deg: float
    vehicle_roll_deg: float
    target_in_room: RoomPoint
    height_setting_mm: float
    height_error_if_ignored_mm: float
    slope_mm_per_m: float
    warp_mm: float
    flatness_mm: float
    u: FloorUncertainty | None
    horizontal_shift: LevelShift
    fixture_tilt: FloorTilt | None
    din_18202: Din18202 | None
    e1155m_lines: tuple[E1155mLine, ...]
