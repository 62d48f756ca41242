"""As-set check: where a fixture stands by the distances measured after it was placed, and what they prove."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Angle, Caution, Label, Length, PositiveSize, Size, Uncertainty, Wire
from snapline.wire.geometry import SpacePoint
from snapline.wire.setting_out import FloorMark, FloorPoint

VERDICTS = ("conforms", "not_proven", "does_not_conform")
OUTCOMES = (*VERDICTS, "measurements_disagree")
VerdictWord = Annotated[
    str,
    Meta(
        description=(
            "conforms: inside both limits by the guard band; does_not_conform: outside one by it; "
            "not_proven: neither. The guard band is z(1 − alpha) standard uncertainties, 1.645 at 0.05."
        ),
        extra_json_schema={"x-extensible-enum": list(VERDICTS)},
    ),
]
OutcomeWord = Annotated[
    str,
    Meta(
        description=(
            "measurements_disagree when the global test fails, whatever the axes say; else the worst "
            "verdict. Without a distance to spare, or without any tolerance, not_proven at best."
        ),
        extra_json_schema={"x-extensible-enum": list(OUTCOMES)},
    ),
]
Tolerance = Annotated[float, Meta(gt=0, le=1e6, description="Millimetres, either way.")]
YawTolerance = Annotated[float, Meta(gt=0, le=360, description="Degrees, either way.")]


class AsSetObservation(Wire, frozen=True, kw_only=True):
    """A measured distance from a mark to a foot, which is counted from 0; ``u_mm`` is the tape's alone."""

    mark: Label
    foot: Annotated[int, Meta(ge=0, le=1000)]
    distance_mm: Size
    u_mm: Uncertainty


class NominalPose(Wire, frozen=True, kw_only=True):
    """Where the body frame of the feet should stand."""

    x_mm: Length
    y_mm: Length
    yaw_deg: Angle
    height_mm: Length


class AsSetTolerance(Wire, frozen=True, kw_only=True):
    """What each axis may be off, plus and minus; an axis left out has no limit and no verdict."""

    x_mm: Tolerance | None = None
    y_mm: Tolerance | None = None
    yaw_deg: YawTolerance | None = None
    height_mm: Tolerance | None = None


class AsSetRequest(Wire, frozen=True, kw_only=True):
    """Marks, the feet in the fixture's own frame, and what was measured after it was placed.

    Everything but the feet is in one frame, the vehicle's if advice is to use its directions. Distances from
    one mark share that mark's uncertainty. ``alpha`` is the level of the global test and the risk at each
    limit, ``alpha_outlier`` the two-sided level at which one distance is suspected.
    """

    marks: Annotated[dict[Label, FloorMark], Meta(max_length=100)]
    feet: Annotated[tuple[FloorPoint, ...], Meta(min_length=1, max_length=50)]
    observations: Annotated[tuple[AsSetObservation, ...], Meta(min_length=1, max_length=200)]
    nominal: NominalPose
    measured_height_mm: Length | None = None
    u_height_mm: Uncertainty | None = None
    tolerance: AsSetTolerance = AsSetTolerance()
    sensor: SpacePoint | None = None
    range_mm: PositiveSize = 100_000.0
    alpha: Annotated[float, Meta(gt=0, le=0.5)] = 0.05
    alpha_outlier: Annotated[float, Meta(gt=0, lt=1)] = 0.001


class PlanePose(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A place on the floor and a direction, or the standard uncertainty of each."""

    x_mm: float
    y_mm: float
    yaw_deg: float


class GlobalTest(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Whether the distances agree as a whole; null with nothing to spare (dof 0)."""

    value: float
    dof: int
    critical: float | None
    passed: bool | None


class CheckedDistance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One distance after the adjustment; ``residual_mm`` is measured minus adjusted.

    ``w`` is positive for a distance measured too long, ``mdb_mm`` the smallest slip that would be found with
    a power of 80 %; both are null where no other distance checks it. ``suspect`` marks the distance that
    stands out most, and those that cannot be told apart from it; none, where the slip cannot be located.
    """

    mark: Label
    foot: int
    residual_mm: float
    w: float | None
    mdb_mm: float | None
    suspect: bool


class AxisVerdict(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What is proven of one axis, and how probably its true error is inside both limits; null without one."""

    verdict: VerdictWord | None
    probability: float | None


class AxisVerdicts(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The verdict on each axis. The height's is there when it was measured with its uncertainty."""

    x_mm: AxisVerdict
    y_mm: AxisVerdict
    yaw_deg: AxisVerdict
    height_mm: AxisVerdict | None


class AimChange(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The fixture as set against nominal, seen from the sensor.

    Bearing is positive left, elevation positive up (the opposite of ISO 8855 pitch; null without a measured
    height); ``lateral_miss_mm`` = range · tan(yaw error), positive left.
    """

    yaw_error_deg: float
    elevation_error_deg: float | None
    lateral_miss_mm: float


CovarianceRow = tuple[float, float, float]
Covariance = tuple[CovarianceRow, CovarianceRow, CovarianceRow]


class AsSetAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The pose as set, standard uncertainties (k = 1), tests, verdicts, and what to do next in words.

    ``covariance`` is in the order x_mm, y_mm, yaw_deg with those units.
    """

    pose: PlanePose
    u: PlanePose
    covariance: Covariance
    chi2: GlobalTest
    observations: tuple[CheckedDistance, ...]
    verdicts: AxisVerdicts
    joint_probability: float | None
    aim: AimChange | None
    outcome: OutcomeWord
    advice: tuple[str, ...]
    cautions: tuple[Caution, ...] = ()
