"""The floor within a setup: what was read, and what it does to the vehicle and to every fixture."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Id, Label, Length, Uncertainty, Wire
from snapline.wire.floor import FloorTilt, Rate, Readings
from snapline.wire.sites import SurveyPoint


class WheelReading(Wire, frozen=True, kw_only=True):
    """The reading where a tyre stands, and the wheel's rate in any unit that all four share."""

    z_mm: Length
    rate: Rate = 1.0


class WheelReadings(Wire, frozen=True, kw_only=True):
    """Readings at the four tyres."""

    front_left: WheelReading
    front_right: WheelReading
    rear_left: WheelReading
    rear_right: WheelReading


class SetupFloor(Wire, frozen=True, kw_only=True):
    """The floor by readings at tyres and feet, or by a survey in the axes of the bay that has ``bay_pose``.

    ``feet`` are by placement and name of the foot. ``u_z_mm`` is the standard uncertainty of each reading.
    """

    u_z_mm: Uncertainty
    readings: Readings = "height"
    wheels: WheelReadings | None = None
    feet: Annotated[dict[Id, Annotated[dict[Label, Length], Meta(max_length=50)]], Meta(max_length=200)] = {}
    survey: Annotated[tuple[SurveyPoint, ...], Meta(min_length=3, max_length=2000)] | None = None


class VehicleOnFloor(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How the vehicle stands against gravity: pitch positive nose down, roll positive left side up.

    ``warp_mm`` is the front left contact minus the plane that the vehicle stands on.
    """

    vehicle_pitch_deg: float
    vehicle_roll_deg: float
    slope_mm_per_m: float
    warp_mm: float


class FixtureOnFloor(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The height to set above the floor at a fixture's feet, plumb, and how that floor leans.

    All but ``statement``, which then says why, is null where the floor there is not known.
    ``height_error_if_ignored_mm`` is the nominal height minus the setting; the tilt is against the plane that
    the vehicle stands on, and null as well where the feet span no plane.
    """

    height_setting_mm: float | None = None
    u_height_setting_mm: float | None = None
    height_error_if_ignored_mm: float | None = None
    floor_tilt: FloorTilt | None = None
    statement: str
