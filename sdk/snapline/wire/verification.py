"""Verification of a setup: what was measured after the fixtures were placed, and what it proves."""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.as_set import Covariance, GlobalTest, OutcomeWord, PlanePose, VerdictWord
from snapline.wire.common import (
    Caution,
    Id,
    Label,
    Length,
    PositiveSize,
    SensorName,
    Size,
    Source,
    Uncertainty,
    Wire,
)
from snapline.wire.geometry import Contribution
from snapline.wire.setups import SetupRequest

AXES = ("along", "lateral", "height", "yaw", "pitch", "roll")
AxisName = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": list(AXES)})]
TOLERANCE_SOURCES = ("source", "aim_allowance")
ToleranceSource = Annotated[
    str,
    Meta(
        description="source: stated there; aim_allowance: from the aim error that a sensor tolerates.",
        extra_json_schema={"x-extensible-enum": list(TOLERANCE_SOURCES)},
    ),
]


class MeasuredDistance(Wire, frozen=True, kw_only=True):
    """A distance on the floor from a mark to a point of a fixture, both by the names that the setup gives.

    Without ``u_mm`` the uncertainty is that of the setup's tape.
    """

    placement: Id
    point: Label
    mark: Label
    distance_mm: Size
    u_mm: Uncertainty | None = None


class MeasuredHeight(Wire, frozen=True, kw_only=True):
    """The height of the reference point above the floor at the fixture's feet."""

    height_mm: Length
    u_mm: Uncertainty


class MeasuredTilt(Wire, frozen=True, kw_only=True):
    """A plumb or level reading: pitch positive with the face down, roll positive with its own left side up.

    Each angle either in degrees or as a slope in mm per metre; ``u_deg`` holds for both.
    """

    pitch_deg: Annotated[float, Meta(ge=-90, le=90)] | None = None
    roll_deg: Annotated[float, Meta(ge=-90, le=90)] | None = None
    pitch_mm_per_m: Annotated[float, Meta(ge=-1000, le=1000)] | None = None
    roll_mm_per_m: Annotated[float, Meta(ge=-1000, le=1000)] | None = None
    u_deg: Annotated[float, Meta(ge=0, le=90)]


class VerifyRequest(SetupRequest, frozen=True, kw_only=True):
    """The setup as it was computed, and what was measured after its fixtures were placed.

    ``stage`` restricts the verification to the fixtures of one stage. ``alpha`` is the level of the global
    test and the risk at each limit, ``alpha_outlier`` the two-sided level at which one distance is suspected.
    """

    stage: Id | None = None
    distances: Annotated[tuple[MeasuredDistance, ...], Meta(max_length=200)] = ()
    heights: Annotated[dict[Id, MeasuredHeight], Meta(max_length=200)] = {}
    tilts: Annotated[dict[Id, MeasuredTilt], Meta(max_length=200)] = {}
    range_mm: PositiveSize = 100_000.0
    alpha: Annotated[float, Meta(gt=0, le=0.5)] = 0.05
    alpha_outlier: Annotated[float, Meta(gt=0, lt=1)] = 0.001


class VerifiedDistance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One distance after the adjustment; ``residual_mm`` is measured minus adjusted.

    ``w`` is positive for a distance measured too long, ``mdb_mm`` the smallest slip that would be found with
    a power of 80 %; both are null where no other distance checks it. ``suspect`` marks the distance that
    stands out most, and those that cannot be told apart from it.
    """

    placement: Id
    point: Label
    mark: Label
    u_mm: float
    residual_mm: float
    w: float | None
    mdb_mm: float | None
    suspect: bool


class AxisVerification(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One axis of a fixture in the sense of its placement: as set minus nominal, and what is proven.

    ``verdict`` is null without a tolerance; ``reason`` then says so, or why it is not proven although it
    looks right. ``budget`` has the shares of the variance (tape, marks, vehicle, reading, floor), which add
    to 1.
    """

    axis: AxisName
    unit: Literal["mm", "deg"]
    error: float | None
    u: float | None
    tolerance: float | None
    tolerance_from: ToleranceSource | None
    verdict: VerdictWord | None
    probability: float | None
    reason: str | None
    budget: tuple[Contribution, ...]


class AimVerification(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the sensor will learn wrong: bearing positive left, elevation positive up, and the miss at range.

    Elevation is null without a measured height.
    """

    sensor: SensorName
    yaw_error_deg: float
    u_yaw_error_deg: float
    elevation_error_deg: float | None
    range_mm: float
    lateral_miss_mm: float


class PlaneUncertainty(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Standard uncertainties (k = 1) of a place and a direction; yaw is null where one point was measured."""

    x_mm: float
    y_mm: float
    yaw_deg: float | None


class PlacementVerification(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One fixture: where it stands in the vehicle frame, axis by axis what is proven, and what to do next.

    ``u`` and ``covariance`` (x, y, yaw) are those of the departure from nominal, the covariance null where
    only one point was measured.
    """

    id: Id
    stage: Id
    pose: PlanePose | None
    u: PlaneUncertainty | None
    covariance: Covariance | None
    axes: tuple[AxisVerification, ...]
    joint_probability: float | None
    aim: AimVerification | None
    outcome: OutcomeWord
    advice: tuple[str, ...]


class Verification(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the measurements prove of a setup. All fixtures are adjusted together, for they share their marks.

    ``outcome`` is measurements_disagree when the global test fails, else the worst of the placements; a setup
    that stops work is not proven at best. ``uncertainty_not_stated`` names inputs that an axis rests on and
    that nobody said the uncertainty of: such an axis cannot be proven.
    """

    vehicle_id: Id
    vehicle_name: str
    procedure_id: Id
    procedure_name: Label
    outcome: OutcomeWord
    chi2: GlobalTest | None
    placements: tuple[PlacementVerification, ...]
    observations: tuple[VerifiedDistance, ...]
    advice: tuple[str, ...]
    uncertainty_not_stated: tuple[str, ...]
    assumed: tuple[str, ...]
    stops_work: tuple[str, ...]
    unchecked: tuple[str, ...]
    invented: bool
    catalogue_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]
