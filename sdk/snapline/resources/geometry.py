"""Geometry: calculators that need no catalogue. Lengths in millimetres, angles in degrees."""

from collections.abc import Mapping
from typing import Any, NotRequired, TypedDict, Unpack, overload

from snapline.calls import Call, compute, whole
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.common import BayPose
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


def compute_placement(request: PlacementRequest) -> Call[PlacementAnswer]:
    """Describe the computation of a placement."""
    return compute("/v1/geometry/placement", PlacementAnswer, request)


def compute_reflector(request: ReflectorRequest) -> Call[ReflectorAnswer]:
    """Describe the computation of a reflector's radar cross-section."""
    return compute("/v1/geometry/reflector", ReflectorAnswer, request)


def compute_aim_tolerance(request: AimToleranceRequest) -> Call[AimTolerance]:
    """Describe the computation of a floor tolerance from an aim allowance."""
    return compute("/v1/geometry/aim-tolerance", AimTolerance, request)


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
