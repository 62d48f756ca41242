"""Geometry: calculators that need no catalogue. Lengths in millimetres, angles in degrees."""

from collections.abc import Mapping, Sequence
from typing import Any, NotRequired, TypedDict, Unpack, overload

from snapline.calls import Call, compute, whole
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.as_set import AsSetAnswer, AsSetObservation, AsSetRequest, AsSetTolerance, NominalPose
from snapline.wire.bay_fit import BayFitAnswer, BayFitRequest, FitBay, FitProcedure
from snapline.wire.common import BayPose
from snapline.wire.drive_window import DriveWindowAnswer, DriveWindowRequest
from snapline.wire.floor import DinRow, FloorAnswer, FloorContacts, FloorRequest, LevelledPoint, Readings
from snapline.wire.geometry import (
    AimTolerance,
    AimToleranceRequest,
    Placement,
    PlacementAnswer,
    PlacementRequest,
    ReflectorAnswer,
    ReflectorRequest,
    ReflectorShape,
    Sensor,
    SpacePoint,
    VehicleGeometry,
)
from snapline.wire.setting_out import (
    FloorMark,
    FloorPoint,
    PointTolerance,
    SettingOutAnswer,
    SettingOutRequest,
    Tape,
)


class PlacementFields(TypedDict):
    """The fields of ``PlacementRequest``."""

    vehicle: VehicleGeometry
    placement: Placement
    bay_pose: NotRequired[BayPose | None]
    standard_uncertainty: NotRequired[Mapping[str, float] | None]


class ReflectorFields(TypedDict):
    """The fields of ``ReflectorRequest``."""

    shape: ReflectorShape
    frequency_ghz: float
    leg_mm: NotRequired[float | None]
    width_mm: NotRequired[float | None]
    height_mm: NotRequired[float | None]


class AimToleranceFields(TypedDict):
    """The fields of ``AimToleranceRequest``."""

    sensor: Sensor
    nominal: SpacePoint
    allowed_yaw_deg: float
    allowed_elevation_deg: NotRequired[float | None]


class FloorFields(TypedDict):
    """The fields of ``FloorRequest``."""

    wheels: FloorContacts
    feet: Sequence[LevelledPoint]
    target: SpacePoint
    u_z_mm: NotRequired[float | None]
    readings: NotRequired[Readings]
    din_18202_row: NotRequired[DinRow | None]
    e1155m_lines_mm: NotRequired[Sequence[Sequence[float]]]


class DriveWindowFields(TypedDict):
    """The fields of ``DriveWindowRequest``."""

    latitude_deg: float
    longitude_deg: float
    time_zone: str
    date: str
    min_sun_elevation_deg: float
    road_heading_deg: NotRequired[float | None]
    dazzle_cone_deg: NotRequired[float | None]
    dazzle_max_elevation_deg: NotRequired[float | None]


class SettingOutFields(TypedDict):
    """The fields of ``SettingOutRequest``."""

    marks: Mapping[str, FloorMark]
    target: FloorPoint
    critical_direction: tuple[float, float]
    tolerance: PointTolerance
    tape: Tape
    blockers: NotRequired[Sequence[Sequence[tuple[float, float]]]]
    min_sin_angle: NotRequired[float]


class AsSetFields(TypedDict):
    """The fields of ``AsSetRequest``."""

    marks: Mapping[str, FloorMark]
    feet: Sequence[FloorPoint]
    observations: Sequence[AsSetObservation]
    nominal: NominalPose
    measured_height_mm: NotRequired[float | None]
    u_height_mm: NotRequired[float | None]
    tolerance: NotRequired[AsSetTolerance]
    sensor: NotRequired[SpacePoint | None]
    range_mm: NotRequired[float]
    alpha: NotRequired[float]
    alpha_outlier: NotRequired[float]


def compute_placement(request: PlacementRequest) -> Call[PlacementAnswer]:
    """Describe the computation of a placement."""
    return compute("/v1/geometry/placement", PlacementAnswer, request)


def compute_reflector(request: ReflectorRequest) -> Call[ReflectorAnswer]:
    """Describe the computation of a reflector's radar cross-section."""
    return compute("/v1/geometry/reflector", ReflectorAnswer, request)


def compute_aim_tolerance(request: AimToleranceRequest) -> Call[AimTolerance]:
    """Describe the computation of a floor tolerance from an aim allowance."""
    return compute("/v1/geometry/aim-tolerance", AimTolerance, request)


def compute_floor(request: FloorRequest) -> Call[FloorAnswer]:
    """Describe the correction of a target's height for the floor."""
    return compute("/v1/geometry/floor", FloorAnswer, request)


def compute_drive_window(request: DriveWindowRequest) -> Call[DriveWindowAnswer]:
    """Describe the search for the times of a day at which the sun lets a car be driven."""
    return compute("/v1/geometry/drive-window", DriveWindowAnswer, request)


def compute_setting_out(request: SettingOutRequest) -> Call[SettingOutAnswer]:
    """Describe the search for the tapes that fix a point best."""
    return compute("/v1/geometry/setting-out", SettingOutAnswer, request)


def compute_as_set(request: AsSetRequest) -> Call[AsSetAnswer]:
    """Describe the check of a fixture as it was set."""
    return compute("/v1/geometry/as-set", AsSetAnswer, request)


class BayFitFields(TypedDict):
    """The fields of ``BayFitRequest``."""

    bay: FitBay
    headings_deg: Sequence[float]
    procedures: Sequence[FitProcedure]


def compute_bay_fit(request: BayFitRequest) -> Call[BayFitAnswer]:
    """Describe the computation of a bay fit."""
    return compute("/v1/geometry/bay-fit", BayFitAnswer, request)


class Geometry(Resource):
    """Calculators over numbers alone."""

    @overload
    def placement(self, request: PlacementRequest, /) -> PlacementAnswer: ...
    @overload
    def placement(self, **fields: Unpack[PlacementFields]) -> PlacementAnswer: ...
    def placement(self, request: PlacementRequest | None = None, **fields: Any) -> PlacementAnswer:
        """Compute where a fixture's reference point stands, in the vehicle and in the bay, and how surely."""
        return self._answer(compute_placement(whole(PlacementRequest, request, fields)))

    @overload
    def reflector(self, request: ReflectorRequest, /) -> ReflectorAnswer: ...
    @overload
    def reflector(self, **fields: Unpack[ReflectorFields]) -> ReflectorAnswer: ...
    def reflector(self, request: ReflectorRequest | None = None, **fields: Any) -> ReflectorAnswer:
        """Compute a reflector's peak radar cross-section at one frequency."""
        return self._answer(compute_reflector(whole(ReflectorRequest, request, fields)))

    @overload
    def aim_tolerance(self, request: AimToleranceRequest, /) -> AimTolerance: ...
    @overload
    def aim_tolerance(self, **fields: Unpack[AimToleranceFields]) -> AimTolerance: ...
    def aim_tolerance(self, request: AimToleranceRequest | None = None, **fields: Any) -> AimTolerance:
        """Compute how far a fixture may stand off along each axis for a sensor's allowed aim error."""
        return self._answer(compute_aim_tolerance(whole(AimToleranceRequest, request, fields)))

    @overload
    def floor(self, request: FloorRequest, /) -> FloorAnswer: ...
    @overload
    def floor(self, **fields: Unpack[FloorFields]) -> FloorAnswer: ...
    def floor(self, request: FloorRequest | None = None, **fields: Any) -> FloorAnswer:
        """Correct a target's height for a floor that is not level or not flat."""
        return self._answer(compute_floor(whole(FloorRequest, request, fields)))

    @overload
    def drive_window(self, request: DriveWindowRequest, /) -> DriveWindowAnswer: ...
    @overload
    def drive_window(self, **fields: Unpack[DriveWindowFields]) -> DriveWindowAnswer: ...
    def drive_window(self, request: DriveWindowRequest | None = None, **fields: Any) -> DriveWindowAnswer:
        """Find when on a local day the sun is high enough and does not dazzle."""
        return self._answer(compute_drive_window(whole(DriveWindowRequest, request, fields)))

    @overload
    def setting_out(self, request: SettingOutRequest, /) -> SettingOutAnswer: ...
    @overload
    def setting_out(self, **fields: Unpack[SettingOutFields]) -> SettingOutAnswer: ...
    def setting_out(self, request: SettingOutRequest | None = None, **fields: Any) -> SettingOutAnswer:
        """Find the two marks from which tapes fix a point best, the distances, and a check."""
        return self._answer(compute_setting_out(whole(SettingOutRequest, request, fields)))

    @overload
    def as_set(self, request: AsSetRequest, /) -> AsSetAnswer: ...
    @overload
    def as_set(self, **fields: Unpack[AsSetFields]) -> AsSetAnswer: ...
    def as_set(self, request: AsSetRequest | None = None, **fields: Any) -> AsSetAnswer:
        """Check by measured distances where a fixture stands, and whether that is inside its tolerance."""
        return self._answer(compute_as_set(whole(AsSetRequest, request, fields)))

    @overload
    def bay_fit(self, request: BayFitRequest, /) -> BayFitAnswer: ...
    @overload
    def bay_fit(self, **fields: Unpack[BayFitFields]) -> BayFitAnswer: ...
    def bay_fit(self, request: BayFitRequest | None = None, **fields: Any) -> BayFitAnswer:
        """Find where in a bay there is room for a vehicle and everything that is done with it."""
        return self._answer(compute_bay_fit(whole(BayFitRequest, request, fields)))


class AsyncGeometry(AsyncResource):
    """Calculators over numbers alone."""

    @overload
    async def placement(self, request: PlacementRequest, /) -> PlacementAnswer: ...
    @overload
    async def placement(self, **fields: Unpack[PlacementFields]) -> PlacementAnswer: ...
    async def placement(self, request: PlacementRequest | None = None, **fields: Any) -> PlacementAnswer:
        """Compute where a fixture's reference point stands, in the vehicle and in the bay, and how surely."""
        return await self._answer(compute_placement(whole(PlacementRequest, request, fields)))

    @overload
    async def reflector(self, request: ReflectorRequest, /) -> ReflectorAnswer: ...
    @overload
    async def reflector(self, **fields: Unpack[ReflectorFields]) -> ReflectorAnswer: ...
    async def reflector(self, request: ReflectorRequest | None = None, **fields: Any) -> ReflectorAnswer:
        """Compute a reflector's peak radar cross-section at one frequency."""
        return await self._answer(compute_reflector(whole(ReflectorRequest, request, fields)))

    @overload
    async def aim_tolerance(self, request: AimToleranceRequest, /) -> AimTolerance: ...
    @overload
    async def aim_tolerance(self, **fields: Unpack[AimToleranceFields]) -> AimTolerance: ...
    async def aim_tolerance(self, request: AimToleranceRequest | None = None, **fields: Any) -> AimTolerance:
        """Compute how far a fixture may stand off along each axis for a sensor's allowed aim error."""
        return await self._answer(compute_aim_tolerance(whole(AimToleranceRequest, request, fields)))

    @overload
    async def floor(self, request: FloorRequest, /) -> FloorAnswer: ...
    @overload
    async def floor(self, **fields: Unpack[FloorFields]) -> FloorAnswer: ...
    async def floor(self, request: FloorRequest | None = None, **fields: Any) -> FloorAnswer:
        """Correct a target's height for a floor that is not level or not flat."""
        return await self._answer(compute_floor(whole(FloorRequest, request, fields)))

    @overload
    async def drive_window(self, request: DriveWindowRequest, /) -> DriveWindowAnswer: ...
    @overload
    async def drive_window(self, **fields: Unpack[DriveWindowFields]) -> DriveWindowAnswer: ...
    async def drive_window(
        self, request: DriveWindowRequest | None = None, **fields: Any
    ) -> DriveWindowAnswer:
        """Find when on a local day the sun is high enough and does not dazzle."""
        return await self._answer(compute_drive_window(whole(DriveWindowRequest, request, fields)))

    @overload
    async def setting_out(self, request: SettingOutRequest, /) -> SettingOutAnswer: ...
    @overload
    async def setting_out(self, **fields: Unpack[SettingOutFields]) -> SettingOutAnswer: ...
    async def setting_out(self, request: SettingOutRequest | None = None, **fields: Any) -> SettingOutAnswer:
        """Find the two marks from which tapes fix a point best, the distances, and a check."""
        return await self._answer(compute_setting_out(whole(SettingOutRequest, request, fields)))

    @overload
    async def as_set(self, request: AsSetRequest, /) -> AsSetAnswer: ...
    @overload
    async def as_set(self, **fields: Unpack[AsSetFields]) -> AsSetAnswer: ...
    async def as_set(self, request: AsSetRequest | None = None, **fields: Any) -> AsSetAnswer:
        """Check by measured distances where a fixture stands, and whether that is inside its tolerance."""
        return await self._answer(compute_as_set(whole(AsSetRequest, request, fields)))

    @overload
    async def bay_fit(self, request: BayFitRequest, /) -> BayFitAnswer: ...
    @overload
    async def bay_fit(self, **fields: Unpack[BayFitFields]) -> BayFitAnswer: ...
    async def bay_fit(self, request: BayFitRequest | None = None, **fields: Any) -> BayFitAnswer:
        """Find where in a bay there is room for a vehicle and everything that is done with it."""
        return await self._answer(compute_bay_fit(whole(BayFitRequest, request, fields)))
