"""Setups: where every fixture of a procedure stands on a vehicle."""

from collections.abc import Mapping, Sequence
from typing import Any, NotRequired, TypedDict, Unpack, overload

from snapline.calls import HTML, PDF, SVG, Call, compute, whole
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.common import BayPose
from snapline.wire.setting_out import Tape
from snapline.wire.setup_floor import SetupFloor
from snapline.wire.setup_setting_out import GivenMark, RearToe, Units
from snapline.wire.setups import Paper, PlacementChoice, Setup, SetupRequest
from snapline.wire.verification import (
    MeasuredDistance,
    MeasuredHeight,
    MeasuredTilt,
    Verification,
    VerifyRequest,
)


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
    rear_toe: NotRequired[RearToe | None]
    marks: NotRequired[Mapping[str, GivenMark]]
    tape: NotRequired[Tape | None]
    units: NotRequired[Units]
    auxiliary_marks: NotRequired[bool]
    two_stages: NotRequired[bool]
    tape_under_vehicle: NotRequired[bool]
    wheel_mark_clearance_mm: NotRequired[float]
    u_marking_mm: NotRequired[float]
    paper: NotRequired[Paper]
    floor: NotRequired[SetupFloor | None]


class VerifyFields(SetupFields):
    """The fields of ``VerifyRequest``."""

    stage: NotRequired[str | None]
    distances: NotRequired[Sequence[MeasuredDistance]]
    heights: NotRequired[Mapping[str, MeasuredHeight]]
    tilts: NotRequired[Mapping[str, MeasuredTilt]]
    range_mm: NotRequired[float]
    alpha: NotRequired[float]
    alpha_outlier: NotRequired[float]


def compute_setup(request: SetupRequest) -> Call[Setup]:
    """Describe the computation of a setup."""
    return compute("/v1/setups", Setup, request)


def draw_setup(request: SetupRequest) -> Call[str]:
    """Describe the drawing of a setup."""
    return compute("/v1/setups", str, request, accept=SVG)


def sheet_setup_html(request: SetupRequest) -> Call[str]:
    """Describe the sheet of a setup as a page."""
    return compute("/v1/setups", str, request, accept=HTML)


def sheet_setup_pdf(request: SetupRequest) -> Call[bytes]:
    """Describe the sheet of a setup for printing."""
    return compute("/v1/setups", bytes, request, accept=PDF)


def verify_setup(request: VerifyRequest) -> Call[Verification]:
    """Describe the verification of a setup as it was set."""
    return compute("/v1/setups/verify", Verification, request)


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

    @overload
    def sheet_html(self, request: SetupRequest, /) -> str: ...
    @overload
    def sheet_html(self, **fields: Unpack[SetupFields]) -> str: ...
    def sheet_html(self, request: SetupRequest | None = None, **fields: Any) -> str:
        """Return the sheet of the whole procedure as one page that needs nothing else."""
        return self._answer(sheet_setup_html(whole(SetupRequest, request, fields)))

    @overload
    def sheet_pdf(self, request: SetupRequest, /) -> bytes: ...
    @overload
    def sheet_pdf(self, **fields: Unpack[SetupFields]) -> bytes: ...
    def sheet_pdf(self, request: SetupRequest | None = None, **fields: Any) -> bytes:
        """Return the sheet of the whole procedure as PDF on ``paper``, a stage on each page."""
        return self._answer(sheet_setup_pdf(whole(SetupRequest, request, fields)))

    @overload
    def verify(self, request: VerifyRequest, /) -> Verification: ...
    @overload
    def verify(self, **fields: Unpack[VerifyFields]) -> Verification: ...
    def verify(self, request: VerifyRequest | None = None, **fields: Any) -> Verification:
        """Say by what was measured whether the fixtures stand where they should, and what to do next."""
        return self._answer(verify_setup(whole(VerifyRequest, request, fields)))


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

    @overload
    async def sheet_html(self, request: SetupRequest, /) -> str: ...
    @overload
    async def sheet_html(self, **fields: Unpack[SetupFields]) -> str: ...
    async def sheet_html(self, request: SetupRequest | None = None, **fields: Any) -> str:
        """Return the sheet of the whole procedure as one page that needs nothing else."""
        return await self._answer(sheet_setup_html(whole(SetupRequest, request, fields)))

    @overload
    async def sheet_pdf(self, request: SetupRequest, /) -> bytes: ...
    @overload
    async def sheet_pdf(self, **fields: Unpack[SetupFields]) -> bytes: ...
    async def sheet_pdf(self, request: SetupRequest | None = None, **fields: Any) -> bytes:
        """Return the sheet of the whole procedure as PDF on ``paper``, a stage on each page."""
        return await self._answer(sheet_setup_pdf(whole(SetupRequest, request, fields)))

    @overload
    async def verify(self, request: VerifyRequest, /) -> Verification: ...
    @overload
    async def verify(self, **fields: Unpack[VerifyFields]) -> Verification: ...
    async def verify(self, request: VerifyRequest | None = None, **fields: Any) -> Verification:
        """Say by what was measured whether the fixtures stand where they should, and what to do next."""
        return await self._answer(verify_setup(whole(VerifyRequest, request, fields)))
