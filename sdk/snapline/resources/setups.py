"""Setups: where every fixture of a procedure stands on a vehicle."""

from collections.abc import Mapping
from typing import Any, NotRequired, TypedDict, Unpack, overload

from snapline.calls import SVG, Call, compute, whole
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.common import BayPose
from snapline.wire.setups import PlacementChoice, Setup, SetupRequest


class SetupFields(TypedDict):
    """The fields of ``SetupRequest``."""

    vehicle_id: str
    procedure_id: str
    measured: NotRequired[Mapping[str, float]]
    standard_uncertainty: NotRequired[Mapping[str, float]]
    placements: NotRequired[Mapping[str, PlacementChoice]]
    bay_pose: NotRequired[BayPose | None]
    by_property: NotRequired[bool]
    drawn_stage: NotRequired[str | None]


def compute_setup(request: SetupRequest) -> Call[Setup]:
    """Describe the computation of a setup."""
    return compute("/v1/setups", Setup, request)


def draw_setup(request: SetupRequest) -> Call[str]:
    """Describe the drawing of a setup."""
    return compute("/v1/setups", str, request, accept=SVG)


class Setups(Resource):
    """Computed geometry of a procedure."""

    @overload
    def compute(self, request: SetupRequest, /) -> Setup: ...
    @overload
    def compute(self, **fields: Unpack[SetupFields]) -> Setup: ...
    def compute(self, request: SetupRequest | None = None, **fields: Any) -> Setup:
        """Compute where the fixtures of a procedure stand, with uncertainty, sources and cautions."""
        return self._answer(compute_setup(whole(SetupRequest, request, fields)))

    @overload
    def drawing(self, request: SetupRequest, /) -> str: ...
    @overload
    def drawing(self, **fields: Unpack[SetupFields]) -> str: ...
    def drawing(self, request: SetupRequest | None = None, **fields: Any) -> str:
        """Return the setup as an SVG drawing."""
        return self._answer(draw_setup(whole(SetupRequest, request, fields)))


class AsyncSetups(AsyncResource):
    """Computed geometry of a procedure."""

    @overload
    async def compute(self, request: SetupRequest, /) -> Setup: ...
    @overload
    async def compute(self, **fields: Unpack[SetupFields]) -> Setup: ...
    async def compute(self, request: SetupRequest | None = None, **fields: Any) -> Setup:
        """Compute where the fixtures of a procedure stand, with uncertainty, sources and cautions."""
        return await self._answer(compute_setup(whole(SetupRequest, request, fields)))

    @overload
    async def drawing(self, request: SetupRequest, /) -> str: ...
    @overload
    async def drawing(self, **fields: Unpack[SetupFields]) -> str: ...
    async def drawing(self, request: SetupRequest | None = None, **fields: Any) -> str:
        """Return the setup as an SVG drawing."""
        return await self._answer(draw_setup(whole(SetupRequest, request, fields)))
